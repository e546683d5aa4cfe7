"""Files are written whole or not at all, however the writing ends."""

from __future__ import annotations

import os
import random
import signal
import stat
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from asfound.files import write_atomically

ROOT = Path(__file__).parent.parent
OLD, NEW = b"the older file\n", b"the newer file\n"


@pytest.fixture
def target(tmp_path: Path) -> Path:
    path = tmp_path / "document.zip"
    path.write_bytes(OLD)
    return path


@pytest.mark.parametrize(
    "content",
    [pytest.param(NEW, id="at once"), pytest.param([NEW[:4], b"", NEW[4:]], id="in pieces"), pytest.param(iter([NEW]), id="as made")],
)  # fmt: skip
def test_writes_what_it_is_given(target: Path, content: Any) -> None:
    write_atomically(target, content)
    assert target.read_bytes() == NEW
    assert os.listdir(target.parent) == [target.name]


def test_nothing_in_it_is_a_file(tmp_path: Path) -> None:
    write_atomically(tmp_path / "empty", [])
    assert (tmp_path / "empty").read_bytes() == b""


@pytest.mark.parametrize("mask", [0o022, 0o077, 0o000])
def test_new_file_has_the_usual_permissions(tmp_path: Path, mask: int) -> None:
    """Those that an ordinary write would give it, not those of a temporary file."""
    before = os.umask(mask)
    try:
        write_atomically(tmp_path / "made", NEW)
        (tmp_path / "plain").write_bytes(NEW)
    finally:
        assert os.umask(before) == mask
    assert (tmp_path / "made").stat().st_mode == (tmp_path / "plain").stat().st_mode


def test_permissions_of_the_older_file_stay(target: Path) -> None:
    target.chmod(0o640)
    write_atomically(target, NEW)
    assert stat.S_IMODE(target.stat().st_mode) == 0o640


def test_link_is_followed_and_stays(target: Path) -> None:
    link = target.parent / "latest.zip"
    link.symlink_to(target.name)
    write_atomically(link, NEW)
    assert link.is_symlink()
    assert target.read_bytes() == NEW


def test_missing_folder_is_an_error_with_its_path(tmp_path: Path) -> None:
    with pytest.raises(OSError, match="nowhere"):
        write_atomically(tmp_path / "nowhere" / "document", NEW)


class Halt(BaseException):
    """What stops a process from inside, such as an interrupt."""


@pytest.mark.parametrize("raised", [OSError(28, "No space left on device"), Halt(), KeyboardInterrupt()])
@pytest.mark.parametrize("call", ["os.fsync", "os.replace", "os.chmod", "os.fdopen"])
def test_failure_at_any_step_leaves_the_older_file(
    target: Path, monkeypatch: pytest.MonkeyPatch, call: str, raised: BaseException
) -> None:
    """The older file is as it was, and no half one lies beside it."""

    def fails(*_: object, **__: object) -> None:
        raise raised

    monkeypatch.setattr(call, fails)
    with pytest.raises(type(raised)):
        write_atomically(target, NEW)
    monkeypatch.undo()
    assert target.read_bytes() == OLD
    assert os.listdir(target.parent) == [target.name]


@pytest.mark.parametrize("raised", [OSError(5, "Input/output error"), Halt(), ValueError("changed")])
def test_failure_while_content_is_made_leaves_the_older_file(target: Path, raised: BaseException) -> None:
    def pieces() -> Iterator[bytes]:
        yield NEW * 100_000
        raise raised

    with pytest.raises(type(raised)):
        write_atomically(target, pieces())
    assert target.read_bytes() == OLD
    assert os.listdir(target.parent) == [target.name]


def test_content_is_on_the_disk_before_it_takes_the_place(target: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A power cut after the change of names finds the whole content: it is synced first, and the folder after."""
    calls: list[str] = []
    sync, replace = os.fsync, os.replace

    def synced(handle: int) -> None:
        calls.append("folder" if stat.S_ISDIR(os.fstat(handle).st_mode) else f"{os.fstat(handle).st_size} bytes")
        sync(handle)

    def replaced(made: str, there: Path) -> None:
        calls.append("in place")
        replace(made, there)

    monkeypatch.setattr("os.fsync", synced)
    monkeypatch.setattr("os.replace", replaced)
    write_atomically(target, NEW)
    assert calls == [f"{len(NEW)} bytes", "in place", "folder"]


def child(code: str, *arguments: str) -> subprocess.Popen[bytes]:
    return subprocess.Popen(
        [sys.executable, "-c", code, *arguments],
        stdout=subprocess.PIPE, env={**os.environ, "PYTHONPATH": str(ROOT / "engine")},
    )  # fmt: skip


WRITER = """
import sys
from asfound.files import write_atomically
print("ready", flush=True)
number = 0
while True:
    number += 1
    write_atomically(sys.argv[1], (bytes([number % 251]) * 65536 for _ in range(40)))
"""


def test_killed_at_any_moment_leaves_a_whole_file(target: Path) -> None:
    """A process that writes without pause is killed again and again; each time there is one whole file."""
    chance = random.Random(5)
    for _ in range(16):
        writer = child(WRITER, str(target))
        assert writer.stdout is not None
        assert writer.stdout.readline() == b"ready\n"
        time.sleep(chance.uniform(0, 0.06))
        writer.send_signal(signal.SIGKILL)
        writer.wait()
        writer.stdout.close()
        content = target.read_bytes()
        if content != OLD:
            assert len(content) == 40 * 65536
            assert len(set(content)) == 1
    assert list(target.parent.glob(".*.part"))  # it was killed in the middle of writing


def test_disk_that_is_full_leaves_the_older_file(target: Path) -> None:
    """A limit on the size of files stands for a full disk: the system refuses to write on."""
    code = (
        "import resource, signal, sys\n"
        "from asfound.files import write_atomically\n"
        "signal.signal(signal.SIGXFSZ, signal.SIG_IGN)\n"
        "resource.setrlimit(resource.RLIMIT_FSIZE, (100_000, 100_000))\n"
        "try: write_atomically(sys.argv[1], b'x' * 1_000_000)\n"
        "except OSError as error: print(error.errno)"
    )
    writer = child(code, str(target))
    out, _ = writer.communicate()
    assert out.strip() == b"27"  # EFBIG
    assert target.read_bytes() == OLD
    assert os.listdir(target.parent) == [target.name]


def test_two_writers_leave_one_of_their_files(target: Path) -> None:
    code = (
        "import sys\nfrom asfound.files import write_atomically\n"
        "for _ in range(60): write_atomically(sys.argv[1], sys.argv[2].encode() * 100_000)"
    )
    writers = [child(code, str(target), letter) for letter in "ab"]
    seen = set()
    while any(writer.poll() is None for writer in writers):
        seen.add(target.read_bytes())
    for writer in writers:
        assert writer.wait() == 0
        assert writer.stdout is not None
        writer.stdout.close()
    assert seen <= {OLD, b"a" * 100_000, b"b" * 100_000}
    assert target.read_bytes() in (b"a" * 100_000, b"b" * 100_000)
    assert os.listdir(target.parent) == [target.name]

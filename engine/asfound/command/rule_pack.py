"""`asfound rule pack` and `asfound rule disagree`."""

from __future__ import annotations

import shlex
import sys
from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

import click

from asfound.command import DEFECT, OK, USAGE
from asfound.command.reading import as_of_option, rules_speak_aside, tell

_Given = TypeVar("_Given")
_SHOWN = 10
"""Files left out that are named; the others are counted."""


def _usable(read: Callable[[], _Given]) -> _Given:
    """What `read` gives; leaves with the status for a pack that is not usable."""
    from asfound.judge.rules import BadRule

    try:
        with rules_speak_aside():
            return read()
    except BadRule as error:
        tell(f"Pack: {error}.")
        sys.exit(USAGE)


@click.command(
    epilog="\b\nExit status:\n  0  built, or with --check nothing fails\n  1  something fails; nothing was written\n"
    "  2  the pack is not usable as given"
)
@click.argument("folder", type=click.Path(path_type=Path, exists=True, file_okay=False))
@click.option(
    "-o",
    "--output",
    "out",
    type=click.Path(path_type=Path, file_okay=False),
    default=Path(),
    metavar="OUT",
    help="Folder for the wheel.  [default: here]",
)
@click.option("--check", "only_check", is_flag=True, help="Check everything and write nothing.")
@click.option("--force", is_flag=True, help="Write over a wheel of this version that holds something else.")
def pack(folder: Path, out: Path, only_check: bool, force: bool) -> None:
    """Check the pack of rules in FOLDER and build its wheel.

    Records the verdict of every new case in verdicts.lock.yaml, in FOLDER; keep
    that file with the pack.
    """
    from asfound.kit.making import check_pack
    from asfound.kit.packs import LOCK
    from asfound.kit.wheel import build_wheel, distribution
    from asfound.wording import plural

    checked = _usable(lambda: check_pack(folder))
    loaded = checked.loaded
    for failure in checked.failures:
        tell(f"- {failure}.")
    if checked.failures:
        tell(f"Not built: {plural(len(checked.failures), 'failure')}. Nothing was written.")
        sys.exit(DEFECT)
    counts = (
        f"{plural(len(loaded.rules), 'rule')}, {plural(checked.cases, 'case')}, {plural(len(loaded.tables), 'table')}"
    )
    click.echo(f"Pack {loaded.pack.name} {loaded.pack.version}: {counts}; nothing fails.")
    for left in checked.left_out[:_SHOWN]:
        click.echo(f"Left out, as it is no part of a pack: {left}")
    if len(checked.left_out) > _SHOWN:
        click.echo(f"Left out besides: {plural(len(checked.left_out) - _SHOWN, 'file')}")
    if only_check:
        if checked.added:
            click.echo(
                f"{plural(checked.added, 'verdict')} not recorded yet; asfound rule pack records them in {LOCK}."
            )
        sys.exit(OK)
    from asfound.files import write_atomically

    wheel = _usable(lambda: build_wheel(loaded.pack, checked.lock if checked.added else None))
    path = out / wheel.name
    if path.is_file() and not force and path.read_bytes() != wheel.content:
        tell(
            f"{path} is there already and holds something else under version {loaded.pack.version}. Nothing was "
            f"written; raise the version in {loaded.pack.file}, or give --force when nobody has that wheel yet."
        )
        sys.exit(USAGE)
    try:
        if checked.added:
            write_atomically(folder / LOCK, checked.lock.encode())
            click.echo(f"Recorded {plural(checked.added, 'verdict')} in {folder / LOCK}.")
        out.mkdir(parents=True, exist_ok=True)
        write_atomically(path, wheel.content)
    except OSError as error:
        tell(f"{error.filename} cannot be written ({error.strerror}); check the folder and its permissions.")
        sys.exit(USAGE)
    click.echo(f"Wrote {path}.\nTo install it: pip install {shlex.quote(str(path))}")
    click.echo(f"To take it away again: pip uninstall {distribution(loaded.pack.name)}")


@click.command(
    epilog="\b\nExit status:\n  0  no disagreement found\n  1  they disagree\n  2  a pack is not usable as given\n"
    "  3  the record is refused"
)
@click.argument("one", metavar="PACK_A")
@click.argument("two", metavar="PACK_B")
@click.argument("record", type=click.Path(path_type=Path), required=False)
@as_of_option
def disagree(one: str, two: str, record: Path | None, as_of: str | None) -> None:
    """Show where PACK_A and PACK_B disagree, side by side.

    A pack is a folder or the name of an installed pack; the built-in rules are
    `built-in`. Compared are tables and rules of one name, rules about the same
    thing on the cases of both, and, with RECORD, on every item of it.
    """
    from datetime import date

    from asfound.command.reading import accepted
    from asfound.kit.disagree import compare, side
    from asfound.plugins import Collected
    from asfound.render.disagreement import as_text
    from asfound.survey import survey

    sides = [_usable(lambda named=named: side(named)) for named in (one, two)]  # type: ignore[misc]
    day = as_of or date.today().isoformat()
    items = None
    if record is not None:
        none = Collected((), sides[0].all_tables)
        done = accepted(lambda: survey(record, day, collected=none), "The record was not judged")
        items = {"site": [done.record.site], **done.installation.items}
    compared = _usable(lambda: compare(sides[0], sides[1], day, items))
    click.echo(as_text(compared), nl=False)
    sys.exit(DEFECT if compared.apart else OK)

"""`asfound verify`."""

from __future__ import annotations

import re
import sys
import textwrap
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from asfound.command import USAGE

if TYPE_CHECKING:
    from asfound.seal.check import Verified

INTACT, DIFFERS, NOT_SEALED, UNDONE = 0, 1, 3, 4
STATUSES = """\b
Exit status:
  0  intact; everything that was asked for is as sealed (this approves nothing)
  1  something differs; each difference is listed
  2  the command or a key is not usable as given
  3  the file is no sealed document, or none that may be opened
  4  intact, and the findings could not be judged again in full; why is said
"""


class Fingerprint(click.ParamType):
    """64 hexadecimal digits."""

    name = "fingerprint"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> str:
        text = str(value).strip().lower()
        if not re.fullmatch("[0-9a-f]{64}", text):
            self.fail(f"{value!r} is not a fingerprint; it has 64 digits from 0 to f", param, ctx)
        return text


@click.command(epilog=STATUSES)
@click.argument("file", type=click.Path(path_type=Path))
@click.option(
    "--against",
    type=click.Path(path_type=Path, exists=True),
    metavar="RECORD",
    help="Also compare with this record, or with the one in this folder, and with the photographs beside it.",
)
@click.option("--recompute", is_flag=True, help="Also judge the sealed record again and compare the findings.")
@click.option(
    "--run-sealed-rules",
    is_flag=True,
    help="With --recompute: run the rules in the archive. They are programs and can do whatever you can; use it only "
    "for a document whose maker you trust.",
)
@click.option(
    "--public-key",
    type=click.Path(path_type=Path),
    metavar="KEYFILE",
    help="The document has to be signed by this key: PEM, or 64 hexadecimal digits in a file.",
)
@click.option("--fingerprint", type=Fingerprint(), metavar="DIGITS", help="The manifest has to have this fingerprint.")
def verify(
    file: Path, against: Path | None, recompute: bool, run_sealed_rules: bool, public_key: Path | None,
    fingerprint: str | None,
) -> None:  # fmt: skip
    """Say precisely what changed in FILE, a sealed document, since it was sealed."""
    from asfound.seal.check import Asked
    from asfound.seal.check import verify as check
    from asfound.seal.signing import BadKey
    from asfound.seal.signing import public_key as read_key
    from asfound.seal.unpack import NotSealed

    if run_sealed_rules and not recompute:
        raise click.UsageError("--run-sealed-rules goes with --recompute")
    try:
        key = read_key(public_key) if public_key is not None else ""
        done = check(file, Asked(against, recompute, run_sealed_rules, key, fingerprint or ""))
    except BadKey as error:
        click.echo(str(error), err=True)
        sys.exit(USAGE)
    except NotSealed as error:
        click.echo(f"{file} is no sealed document that can be verified: {error.reason}.", err=True)
        sys.exit(NOT_SEALED)
    except OSError as error:
        click.echo(f"{file} cannot be read to its end ({error.strerror}); nothing can be said of it.", err=True)
        sys.exit(NOT_SEALED)
    click.echo(text(file, done, against, key), nl=False)
    sys.exit(DIFFERS if done.differences else UNDONE if done.undone else INTACT)


def text(file: Path, done: Verified, against: Path | None, key: str) -> str:
    """The result in words, 80 columns wide."""
    lines = [*_about(file, done, key), ""]
    count = len(done.differences)
    if count:
        lines += _wrap(f"{count} {'thing differs' if count == 1 else 'things differ'}:")
        for one in done.differences:
            lines += _wrap(f"- {one.says}.", "  ")
    else:
        lines += _wrap("Nothing differs from what was sealed.")
    if against is not None:
        compared = len(done.compared)
        lines += _wrap(f"Compared with {against}: {compared} {'file' if compared == 1 else 'files'}.")
    if done.recomputed is not None:
        lines += _wrap(
            f"Judged again and compared one by one: {done.recomputed} findings, and the checks that cannot tell."
        )
    for told in (*done.undone, *done.notes):
        lines += _wrap(told)
    lines += ["", *_wrap(done.sealed.values["statement"])]
    return "".join(f"{line}\n" for line in lines)


def _about(file: Path, done: Verified, key: str) -> list[str]:
    from asfound.seal.unpack import shown

    def plain(value: object) -> str:
        return shown(str(value), 300)[1:-1]

    held = done.sealed.values
    record = held["record"]
    invented = " (invented record)" if record["invented"] else ""
    lines = _wrap(
        f"{file}: record {plain(record['name'])}, {plain(record['site']) or 'site without a name'}{invented}."
    )
    number = f", number {plain(held['number'])}" if held["number"] else ""
    version = plain(held["asfound"]["version"])
    lines += _wrap(f"Sealed on {held['sealed_on']}{number}, judged as of {held['as_of']} by asfound {version}.")
    lines += _wrap(f"Manifest fingerprint {done.sealed.sha256}")
    if done.signature:
        whose = (
            "the key that was given" if key else "whose key that is, the document cannot say; compare it with theirs"
        )
        lines += _wrap(f"Signed by {done.signature}: {whose}.")
    elif not held["signed_by"]:
        lines += _wrap(
            "Not signed: who changes it can write a manifest that fits. Compare the fingerprint with the one noted."
        )
    if held["amends"]:
        older = held["amends"]
        number = f"number {plain(older['number'])}, " if older["number"] else ""
        lines += _wrap(
            f"Amends the document sealed on {plain(older['sealed_on'])}, {number}with the manifest fingerprint "
            f"{older['manifest_sha256']}. Reason: {plain(older['reason'])}. Changes since: {len(older['changes'])}."
        )
    lines += _wrap(f"Photographs are {held['photographs']['held']}.")
    for lost in held["photographs"]["not_held"]:
        lines += _wrap(f"Photograph {plain(lost['name'])} was not sealed: {plain(lost['why'])}.")
    return lines


def _wrap(text: str, then: str = "") -> list[str]:
    return textwrap.wrap(text, 80, subsequent_indent=then, break_long_words=False, break_on_hyphens=False)

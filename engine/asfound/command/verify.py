"""`asfound verify`."""

from __future__ import annotations

import re
import sys
import textwrap
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from asfound.command import USAGE
from asfound.command.progress import told

if TYPE_CHECKING:
    from asfound.seal.check import Verified

_HOW_HELD = {"as taken": "byte for byte as taken", "copies without location": "as copies without location"}
_MOST_NAMES = 8
INTACT, DIFFERS, NOT_SEALED, UNDONE = 0, 1, 3, 4
STATUSES = """\b
Exit status:
  0  intact: all that was asked for is as sealed (this approves nothing)
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
@click.option(
    "--older",
    type=click.Path(path_type=Path),
    multiple=True,
    metavar="OLDER.zip",
    help="A document that this one amends, or an older one still; repeatable. The chain is followed and compared.",
)
def verify(
    file: Path, against: Path | None, recompute: bool, run_sealed_rules: bool, public_key: Path | None,
    fingerprint: str | None, older: tuple[Path, ...],
) -> None:  # fmt: skip
    """Say precisely what changed in FILE, a sealed document, since it was sealed.

    Nothing in it is run unless --run-sealed-rules is given.
    """
    from asfound.seal.check import Asked
    from asfound.seal.check import verify as check
    from asfound.seal.signing import BadKey
    from asfound.seal.signing import public_key as read_key
    from asfound.seal.unpack import NotSealed

    if run_sealed_rules and not recompute:
        raise click.UsageError("--run-sealed-rules goes with --recompute")
    try:
        key = read_key(public_key) if public_key is not None else ""
        done = check(file, Asked(against, recompute, run_sealed_rules, key, fingerprint or "", older), told)
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
    from asfound.seal.manifest import STATEMENT
    from asfound.seal.unpack import shown
    from asfound.wording import plural, quoted_list

    lines = [*_about(file, done, key), ""]
    if done.differences:
        lines += _wrap(f"{plural(len(done.differences), 'thing differs', 'things differ')}:")
        for one in done.differences:
            lines += _wrap(f"- {one.says}.", "  ")
    else:
        lines += _wrap("Nothing differs from what was sealed.")
    if against is not None:
        names = quoted_list((shown(name)[1:-1] for name in done.compared), _MOST_NAMES)
        count = plural(len(done.compared), "file")
        lines += _wrap(f"Compared with {against}: {count}{f' ({names})' if names else ''}.")
    for link in done.older:
        lines += _wrap(f"Amends {link}.")
    if done.recomputed is not None:
        count = plural(done.recomputed, "finding")
        lines += _wrap(f"Judged again and compared one by one: {count}, and the checks that cannot tell.")
    for sentence in (*done.undone, *done.notes):
        lines += _wrap(sentence)
    lines += ["", *_wrap(STATEMENT)]
    return "".join(f"{line}\n" for line in lines)


def _about(file: Path, done: Verified, key: str) -> list[str]:
    from asfound.seal.unpack import shown
    from asfound.wording import plural

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
    lines += ["Manifest fingerprint:", f"  {done.sealed.sha256}"]
    if done.signature:
        whose = "the key that was given" if key else "whose it is, the document cannot say; compare it with theirs"
        lines += ["Signed by the key:", f"  {done.signature}", *_wrap(f"  ({whose})", "  ")]
    elif not held["signed_by"]:
        lines += _wrap(
            "Not signed: whoever changes it can write a manifest that fits. Compare the fingerprint with the one noted "
            "when it was sealed."
        )
    if held["amends"]:
        older = held["amends"]
        number = f"number {plain(older['number'])}, " if older["number"] else ""
        lines += _wrap(
            f"Amends the document sealed on {plain(older['sealed_on'])}, {number}with the manifest fingerprint "
            f"{older['manifest_sha256']}. Reason: {plain(older['reason'])}. Changes since: {len(older['changes'])}."
        )
    for name in done.of_record:
        lines += _wrap(f"Report {plain(name)} says that it was made from the sealed record.")
    for name in done.untold:
        lines += _wrap(f"Report {plain(name)} does not say in a way known here from which record it was made.")
    if done.accepted is not None:
        lines += _wrap(f"Accepted as sealed: {plural(done.accepted, 'finding')}; accepted is not repaired.")
    if done.approval is not None:
        by, on = plain(done.approval.by), plain(done.approval.on)
        this = done.approval.record == record["sha256"]
        lines += _wrap(
            f"Approval of this record by {by} on {on}, as the file supplied says; a seal does not show who wrote it."
            if this
            else f"The approval by {by} on {on} is of another state of the record; it does not count for this one."
        )
    if held["photographs"]["not_held"] or done.sealed.of_role("photograph"):
        lines += _wrap(f"Photographs are held {_HOW_HELD[held['photographs']['held']]}.")
    for lost in held["photographs"]["not_held"]:
        lines += _wrap(f"Photograph {plain(lost['name'])} was not sealed: {plain(lost['why'])}.")
    return lines


def _wrap(text: str, then: str = "") -> list[str]:
    return textwrap.wrap(text, 80, subsequent_indent=then, break_long_words=False, break_on_hyphens=False)

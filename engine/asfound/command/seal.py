"""`asfound seal`."""

from __future__ import annotations

import re
import sys
import textwrap
from collections.abc import Iterable, Iterator
from datetime import UTC, date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any, NoReturn

import click

from asfound.command import OK, REFUSED, RULE_FAILED, USAGE, rules_option
from asfound.command.progress import told
from asfound.command.reading import accepted, amend_option, as_of_option, read_acceptances

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

    from asfound.seal.make import Made, Order
    from asfound.seal.older import Older

STATUSES = """\b
Exit status:
  0  sealed; this approves nothing
  2  the command, a key, a rule pack or a file given along is not usable as
     given; nothing written
  3  the record, the older document or what a person supplies is refused;
     nothing written
  4  sealed, and a rule failed on some item; its silence means nothing
"""
_COUNTED = (("photograph", "photograph"), ("report", "report"), ("amendment", "file of local amendments"))
_MOMENT = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}(:[0-9]{2})?(Z|[+-][0-9]{2}:[0-9]{2})?\Z")


class Moment(click.ParamType):
    """A date with a time, kept as written."""

    name = "date-time"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> str:
        text = str(value).strip().replace(" ", "T")
        try:
            datetime.fromisoformat(text)
        except ValueError:
            text = ""
        if not _MOMENT.match(text):
            self.fail(f"{value!r} is not a date and time; write it like 2026-05-20T14:05+02:00", param, ctx)
        return text


@click.command(epilog=STATUSES)
@click.argument("record", type=click.Path(path_type=Path), required=False)
@click.option(
    "-o", "--output", type=click.Path(path_type=Path), metavar="FILE.zip", help="The sealed document to write."
)
@as_of_option
@rules_option
@amend_option
@click.option(
    "--report",
    "reports",
    type=click.Path(path_type=Path),
    multiple=True,
    metavar="FILE",
    help="Seal this report too, as it is; repeatable. One made from another state of the record is refused.",
)
@click.option(
    "--accepted",
    "acceptances",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Seal this file of accepted findings too; the findings are sealed with what it says of them.",
)
@click.option(
    "--with",
    "supplied",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Seal this file of what a person supplies too: issuer, approval ...",
)
@click.option("--number", default="", metavar="TEXT", help="Number of the sealed document.")
@click.option(
    "--sealed-on",
    type=Moment(),
    metavar="DATE-TIME",
    help="Date and time on the document; with --as-of it makes the bytes the same each time.  [default: now]",
)
@click.option(
    "--amends", type=click.Path(path_type=Path), metavar="OLDER.zip", help="The sealed document this one amends."
)
@click.option("--reason", default="", metavar="TEXT", help="Why it amends the older one.")
@click.option("--strip-location", is_flag=True, help="Seal copies of the photographs, made anew without location.")
@click.option(
    "--key",
    type=click.Path(path_type=Path),
    metavar="KEYFILE",
    help="Sign with this Ed25519 key (PEM). A protected key is opened with ASFOUND_KEY_PASSWORD from the environment.",
)
@click.option(
    "--new-key",
    type=click.Path(path_type=Path),
    metavar="KEYFILE",
    help="Only make a new key in this file, and print the public key to give to others.",
)
def seal(
    record: Path | None, output: Path | None, as_of: str | None, named: tuple[Path, ...], amended: tuple[Path, ...],
    reports: tuple[Path, ...], acceptances: Path | None, supplied: Path | None, number: str, sealed_on: str | None,
    amends: Path | None, reason: str, strip_location: bool, key: Path | None, new_key: Path | None,
) -> None:  # fmt: skip
    """Seal RECORD with its photographs, rules, tables and findings in one archive.

    Later `asfound verify` says what changed since. A seal approves nothing. To
    amend a sealed document, make a new one that names it; the older one stays
    as it is.
    """
    if new_key is not None:
        if record is not None or key is not None:
            raise click.UsageError("--new-key only makes a key; give no record and no --key with it")
        _new_key(new_key)
        return
    if record is None or output is None:
        raise click.UsageError("name the record to seal, and with -o the file to write")
    if bool(amends) != bool(reason.strip()):
        raise click.UsageError("--amends and --reason go together: which document is amended, and why")
    for what, text, most in (("--number", number, 100), ("--reason", reason, 2000)):
        if not text.isprintable() or len(text) > most:
            raise click.UsageError(f"{what} is one line of at most {most} characters that can be seen")
    if output.exists() or output.is_symlink():
        _stop(f"{output} is there already; a sealed document is never written over. Name another file.", USAGE)
    signing = _key(key) if key is not None else None
    read_acceptances(acceptances)
    from asfound.seal.make import Order

    order = Order(
        record=record,
        as_of=as_of or date.today().isoformat(),
        sealed_on=sealed_on or datetime.now(UTC).isoformat(timespec="seconds"),
        named=named,
        amended=amended,
        reports=reports,
        accepted=acceptances,
        supplied=supplied,
        number=number,
        older=_older(amends, reason, number) if amends is not None else None,
        strip_location=strip_location,
    )
    made = _written(order, output, signing)
    _told(output, made)
    failed = made.results.results.totals["rule failed"]
    sys.exit(RULE_FAILED if failed else OK)


def _written(order: Order, output: Path, signing: Ed25519PrivateKey | None) -> Made:
    """The sealed document, written; leaves with the status for it where it cannot be."""
    from asfound.files import write_atomically
    from asfound.seal.make import Unsealable, make
    from asfound.seal.zipform import Changed

    try:
        made = accepted(lambda: make(order, signing, told), "The record was not sealed")
        size = sum(part.measure.size for part in made.parts)
        told(f"packing {len(made.parts)} files, {size / 1_000_000:.1f} MB")
        write_atomically(output, _not_over(output, made.pieces()))
        return made
    except FileExistsError:
        _stop(f"{output} has come into being meanwhile and was left as it is. Name another file.", USAGE)
    except Unsealable as error:
        _stop(str(error), USAGE)
    except Changed as error:
        _stop(f"{error.path} changed while it was being sealed; nothing was written. Do it again.", USAGE)
    except OSError as error:
        _stop(f"{output} cannot be written ({error.strerror}); check the folder and its permissions.", USAGE)


def _not_over(output: Path, pieces: Iterable[bytes]) -> Iterator[bytes]:
    """The pieces; at their end raises `FileExistsError` when somebody else has written the file meanwhile."""
    yield from pieces
    if output.exists() or output.is_symlink():
        raise FileExistsError


def _key(path: Path) -> Ed25519PrivateKey:
    from asfound.seal.signing import BadKey, others_can_read, private_key

    try:
        key = private_key(path)
    except BadKey as error:
        _stop(str(error), USAGE)
    if others_can_read(path):
        click.echo(
            f"Others can read {path}; whoever has the key can sign for you. Forbid it: chmod 600 {path}", err=True
        )
    return key


def _older(path: Path, reason: str, number: str) -> Older:
    """The document to amend, which has to be intact."""
    from asfound.seal.check import verify
    from asfound.seal.older import older
    from asfound.seal.unpack import NotSealed

    try:
        done = verify(path, told=told)
        if done.differences:
            first = done.differences[0].says
            _stop(f"{path} is not as it was sealed ({first}); amend the intact document.", REFUSED)
        if number and number == done.sealed.values["number"]:
            _stop(f"{path} has the number {number} already; an amendment has its own.", USAGE)
        return older(path, reason)
    except NotSealed as error:
        _stop(f"{path} cannot be amended: {error.reason}.", REFUSED)


def _told(output: Path, made: Made) -> None:
    from asfound.seal.manifest import ROLES
    from asfound.seal.unpack import shown
    from asfound.wording import plural

    roles = [entry["role"] for entry in made.values["entries"]]
    counts = [plural(roles.count(role), word) for role, word in _COUNTED if roles.count(role)]
    counts += [f"the {ROLES[role]}" for role in ("accepted", "supplied") if role in roles]
    code = plural(roles.count("rule") + roles.count("table"), "file") + " of rules and tables"
    _say(f"Wrote {output}: {', '.join(['the record', 'its findings', *counts, code])}.")
    click.echo(f"Manifest fingerprint:\n  {made.manifest_sha256}")
    _say("Note the fingerprint apart from this file; it shows later that the document is this one.")
    if made.values["signed_by"]:
        click.echo(f"Signed by the key:\n  {made.values['signed_by']}")
    approval = made.approval
    if approval is not None and approval.record != made.values["record"]["sha256"]:
        _say("The approval supplied is of another state of the record; it does not count for this one.", err=True)
    if made.values["amends"]:
        click.echo(f"Amends the document with the manifest fingerprint:\n  {made.values['amends']['manifest_sha256']}")
    located = sum(
        entry.get("has_location") is not False for entry in made.values["entries"] if entry["role"] == "photograph"
    )
    if located:
        _say(
            f"{plural(located, 'photograph')} may tell where {'it was' if located == 1 else 'they were'} taken; "
            f"--strip-location seals copies without that."
        )
    for lost in made.values["photographs"]["not_held"]:
        _say(f"Not in it: photograph {shown(lost['name'])}: {lost['why']}.")


def _say(sentence: str, err: bool = False) -> None:
    """A sentence within 80 columns; a long word, such as a path, stays whole."""
    click.echo(textwrap.fill(sentence, 80, break_long_words=False, break_on_hyphens=False), err=err)


def _new_key(path: Path) -> None:
    from asfound.seal.signing import BadKey, new_key, public_key_digits

    try:
        pem = new_key(path)
    except BadKey as error:
        _stop(str(error), USAGE)
    click.echo(pem, nl=False)
    click.echo(
        f"Wrote {path}. Keep it to yourself: whoever has it can sign for you. The public key above, in short "
        f"{public_key_digits(pem)}, is for those who verify.",
        err=True,
    )


def _stop(sentence: str, status: int) -> NoReturn:
    click.echo(sentence, err=True)
    sys.exit(status)

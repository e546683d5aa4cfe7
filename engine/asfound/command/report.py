"""`asfound report`."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from asfound.command import OK, RULE_FAILED, USAGE, rules_option
from asfound.command.progress import told
from asfound.command.reading import (
    Day,
    accepted,
    accepted_option,
    amend_option,
    as_of_option,
    edition_option,
    judged_on,
    read_acceptances,
)

STATUSES = """\b
Exit status:
  0  written; this approves nothing
  2  the command, a rule pack or a file of accepted findings is not usable as
     given, or a document cannot be made or written
  3  a record, or what a person supplies, is refused; nothing written
  4  written, and a rule failed on some item; its silence means nothing
"""
UNDONE = "No document was written"
KINDS = {"deficiency": "deficiency report", "before work": "pre-existing condition record", "sheet": "sheet"}


@click.command(epilog=STATUSES)
@click.argument("record", type=click.Path(path_type=Path))
@click.option("-o", "--out", type=click.Path(path_type=Path), help="Folder for the files.  [default: beside RECORD]")
@click.option(
    "--format",
    "formats",
    type=click.Choice(["pdf", "html", "docx", "xlsx", "csv", "json"]),
    multiple=True,
    help="What to write; repeatable.  [default: pdf and html]",
)
@click.option(
    "--kind", type=click.Choice(list(KINDS)), default="deficiency", show_default=True, help="What kind of document."
)
@click.option("--only", default="", metavar="TAG", help="For a sheet: the breaker, box or panel that it is about.")
@as_of_option
@edition_option
@click.option(
    "--since",
    "earlier",
    type=click.Path(path_type=Path),
    metavar="EARLIER",
    help="Add what became of the findings of this earlier record of the same place.",
)
@click.option("--work-began", type=Day(), help="Say what was recorded before this day, and what is not shown to be.")
@accepted_option
@click.option("--issued", type=Day(), help="Date of issue (YYYY-MM-DD).  [default: left blank]")
@click.option(
    "--with",
    "supplied_file",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="What a person supplies: issuer, number, approval ...",
)
@click.option("--paper", type=click.Choice(["letter", "a4"]), default="letter", show_default=True, help="Paper size.")
@click.option("--keep-location", is_flag=True, help="Leave location data in the photographs.")
@rules_option
@amend_option
@click.option("--open", "show", is_flag=True, help="Show the first file when it is written.")
def report(
    record: Path, out: Path | None, formats: tuple[str, ...], kind: str, only: str, as_of: str | None,
    edition: int | None, earlier: Path | None, work_began: str | None, acceptances: Path | None, issued: str | None,
    supplied_file: Path | None, paper: str, keep_location: bool, named: tuple[Path, ...], amended: tuple[Path, ...],
    show: bool,
) -> None:  # fmt: skip
    """Write documents from RECORD: deficiency report, record before the work, or a sheet for the wall."""
    from asfound.compare.former import accepted_in
    from asfound.files import write_atomically
    from asfound.names import Names
    from asfound.report.content import Asked, content
    from asfound.report.make import make, supplied
    from asfound.report.notset import NotSet
    from asfound.survey import survey

    if (kind == "sheet") != bool(only):
        raise click.UsageError("a sheet is about one thing: give --kind sheet together with --only TAG")
    if earlier and only:
        raise click.UsageError("a sheet tells of one record; give --since with another kind of document")
    if work_began and not earlier and kind != "before work":
        raise click.UsageError('--work-began goes with --since, or with --kind "before work"')
    day = judged_on(as_of, edition)
    held = accepted(lambda: supplied(supplied_file), UNDONE) if supplied_file else {}
    file = read_acceptances(acceptances)
    told("judging the record")
    done = accepted(lambda: survey(record, day, named=named, amended=amended), UNDONE)
    since = None
    if earlier:
        from asfound.compare import compare

        told("judging the earlier record")
        before = accepted(lambda: survey(earlier, day, named=named, amended=amended), UNDONE)
        told("comparing the two")
        since = compare(before, done)
    asked = Asked(
        KINDS[kind],
        day,
        str(edition or ""),
        issued=issued or "",
        only=only,
        supplied=held,
        accepted=accepted_in(done, file, named) if file else None,
        since=since,
        work_began=work_began or "",
    )
    folder = out or record.parent
    stem = f"{record.stem}-{kind.replace(' ', '-')}{'-' + _file_name(only) if only else ''}"
    approval = held.get("approval")
    if approval and issued and issued < approval["on"]:
        raise click.UsageError(f"it is approved on {approval['on']} and cannot be issued before, on {issued}")
    try:
        says = content(done, asked)
    except KeyError:
        tags = [item.tag for kind in ("breaker", "box", "panel") for item in done.installation.items.get(kind, ())]
        hint = Names(tags).hint(only, "breakers, boxes and panels")
        click.echo(f"{only!r} is no breaker, box or panel of this record; {hint}.", err=True)
        sys.exit(USAGE)
    if approval and says["draft"]:
        state = "state of the record" if approval["record"] != done.record.document.sha256 else "document"
        click.echo(
            f"{supplied_file}: the approval is of another {state}; this one stays a draft. Read it, then write its "
            f"fingerprint as document: {says['fingerprint']}",
            err=True,
        )
    first: Path | None = None
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for name, made in make(
            done, record, says, formats or ("pdf", "html"), paper=paper, keep_location=keep_location, told=told
        ):
            path = folder / f"{stem}.{name}"
            write_atomically(path, made)
            first = first or path
            click.echo(f"Wrote {path}")
    except NotSet as error:
        click.echo(f"The PDF cannot be set: {error}. The other formats can: give --format html or docx.", err=True)
        sys.exit(USAGE)
    except OSError as error:
        click.echo(f"{error.filename or folder} cannot be written ({error.strerror}); check the folder.", err=True)
        sys.exit(USAGE)
    if show and first is not None:
        click.launch(str(first))
    sys.exit(RULE_FAILED if done.results.totals["rule failed"] else OK)


def _file_name(tag: str) -> str:
    """A tag as part of a file name."""
    return "".join(char if char.isalnum() and char.isascii() else "-" for char in tag)[:40]

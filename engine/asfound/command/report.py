"""`asfound report`."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from asfound.command import OK, STATUSES, USAGE, rules_option
from asfound.command.reading import Day, accepted, as_of_option

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
@click.option(
    "--amend",
    "amended",
    type=click.Path(path_type=Path),
    multiple=True,
    metavar="FILE",
    help="Apply this file of local amendments; repeatable.",
)
@click.option("--open", "show", is_flag=True, help="Show the first file when it is written.")
def report(
    record: Path, out: Path | None, formats: tuple[str, ...], kind: str, only: str, as_of: str | None,
    issued: str | None, supplied_file: Path | None, paper: str, keep_location: bool, named: tuple[Path, ...],
    amended: tuple[Path, ...], show: bool,
) -> None:  # fmt: skip
    """Write documents from RECORD: deficiency report, record before the work, or a sheet for the wall."""
    from datetime import date

    from asfound.files import write_atomically
    from asfound.names import Names
    from asfound.report.content import Asked
    from asfound.report.make import make, supplied
    from asfound.survey import survey

    if (kind == "sheet") != bool(only):
        raise click.UsageError("a sheet is about one thing: give --kind sheet together with --only TAG")
    day = as_of or date.today().isoformat()
    held = accepted(lambda: supplied(supplied_file), "No document was written") if supplied_file else {}
    done = accepted(lambda: survey(record, day, named=named, amended=amended), "No document was written")
    asked = Asked(KINDS[kind], day, issued=issued or "", only=only, supplied=held)
    folder = out or record.parent
    stem = f"{record.stem}-{kind.replace(' ', '-')}{'-' + _file_name(only) if only else ''}"
    approval = held.get("approval")
    if approval and approval["record"] != done.record.document.sha256:
        click.echo(
            f"{supplied_file}: the approval is of another state of the record; the document stays a draft.", err=True
        )
    first: Path | None = None
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for name, made in make(
            done, record, asked, formats or ("pdf", "html"), paper=paper, keep_location=keep_location, told=_told
        ):
            path = folder / f"{stem}.{name}"
            write_atomically(path, made)
            first = first or path
            click.echo(f"Wrote {path}")
    except KeyError:
        tags = [item.tag for kind in ("breaker", "box", "panel") for item in done.installation.items.get(kind, ())]
        hint = Names(tags).hint(only, "breakers, boxes and panels")
        click.echo(f"{only!r} is no breaker, box or panel of this record; {hint}.", err=True)
        sys.exit(USAGE)
    except OSError as error:
        click.echo(f"{error.filename or folder} cannot be written ({error.strerror}); check the folder.", err=True)
        sys.exit(USAGE)
    if show and first is not None:
        click.launch(str(first))
    sys.exit(OK)


def _told(words: str) -> None:
    """Progress, on standard error, only where somebody is watching."""
    if sys.stderr.isatty():
        click.echo(f"  {words} ...", err=True)


def _file_name(tag: str) -> str:
    """A tag as part of a file name."""
    return "".join(char if char.isalnum() and char.isascii() else "-" for char in tag)[:40]

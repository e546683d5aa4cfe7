"""What the commands that read a record share: their options, and how a refusal is told."""

from __future__ import annotations

import contextlib
import sys
import textwrap
from collections.abc import Callable, Iterable
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from asfound.command import REFUSED, USAGE

if TYPE_CHECKING:
    from asfound.accepted import AcceptedFile
    from asfound.render.asdata import RunFacts
    from asfound.survey import Survey

_Given = TypeVar("_Given")


class Day(click.ParamType):
    """A date written year-month-day."""

    name = "date"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> str:
        try:
            return date.fromisoformat(value).isoformat()
        except ValueError:
            self.fail(f"{value!r} is not a date; write it like 2026-05-04", param, ctx)


format_option = click.option(
    "--format",
    "form",
    type=click.Choice(["text", "json"]),
    default="text",
    show_default=True,
    help="How to print the result.",
)
accepted_option = click.option(
    "--accepted",
    "acceptances",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Show the findings that this file accepts as accepted; until their day they do not count.",
)
as_of_option = click.option(
    "--as-of", type=Day(), help="Judge by the tables in force on this date (YYYY-MM-DD).  [default: today]"
)

amend_option = click.option(
    "--amend",
    "amended",
    type=click.Path(path_type=Path),
    multiple=True,
    metavar="FILE",
    help="Apply this file of local amendments; repeatable.",
)
edition_option = click.option(
    "--edition",
    type=click.IntRange(1900, 2200),
    metavar="YEAR",
    help="Judge by the tables of this edition year instead.",
)


def judged_on(as_of: str | None, edition: int | None) -> str:
    """The date whose tables count: as given, or the last day of the year of an edition, or today."""
    if as_of and edition:
        raise click.UsageError("give --as-of or --edition, not both")
    return as_of or (f"{edition}-12-31" if edition else date.today().isoformat())


def tell(text: str) -> None:
    """Print what is wrong on standard error, in lines of 80 columns; a path stays in one piece."""
    for line in text.splitlines():
        click.echo(
            textwrap.fill(
                line, 80, subsequent_indent="  ", break_long_words=False, break_on_hyphens=False,
                replace_whitespace=False,
            ), err=True,
        )  # fmt: skip


def rules_speak_aside() -> contextlib.AbstractContextManager[object]:
    """While rules are loaded and run, what they print goes to standard error, not into what a command prints."""
    return contextlib.redirect_stdout(sys.stderr)


def accepted(read: Callable[[], _Given], undone: str) -> _Given:
    """What `read` gives; leaves with the status for it where the record is refused or rules are not usable.

    `undone` says what did not happen to a refused record, such as `The record was not judged`.
    """
    from asfound.judge.rules import BadRule
    from asfound.load import Refused

    try:
        with rules_speak_aside():
            return read()
    except Refused as refused:
        for sentence in refused.sentences():
            click.echo(sentence, err=True)
        count = len(refused.problems)
        click.echo(f"{undone}: {count} problem{'s' if count > 1 else ''}. Nothing was changed.", err=True)
        sys.exit(REFUSED)
    except BadRule as error:
        click.echo(f"Rules: {error}.", err=True)
        sys.exit(USAGE)


def run_facts(done: Survey, day: str, edition: int | None, named: Iterable[Path]) -> RunFacts:
    """What a run depended on besides the record."""
    from asfound.render.asdata import RunFacts

    return RunFacts(
        as_of=day,
        edition=str(edition or ""),
        rules=tuple((r.name, r.revision) for r in done.rules),
        named=tuple(map(str, named)),
        amendments=done.tables.amendments.given,
        packs={rule.name: rule.pack for rule in done.rules if rule.pack},
    )


def read_acceptances(path: Path | None) -> AcceptedFile | None:
    """The file of accepted findings, None when none was named; leaves with the status for it when it is refused."""
    if path is None:
        return None
    from asfound.accepted import read_accepted
    from asfound.load import Refused

    try:
        return read_accepted(path)
    except Refused as refused:
        for sentence in refused.sentences():
            click.echo(sentence, err=True)
        click.echo("The accepted findings were not read, and nothing was judged.", err=True)
        sys.exit(USAGE)

"""`asfound check`."""

from __future__ import annotations

import sys
from datetime import date
from pathlib import Path
from typing import Any

import click

from asfound.command import DEFECT, NOTHING, OK, REFUSED, RULE_FAILED, STATUSES, USAGE, rules_option
from asfound.data import data


class Day(click.ParamType):
    """A date written year-month-day."""

    name = "date"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> str:
        try:
            return date.fromisoformat(value).isoformat()
        except ValueError:
            self.fail(f"{value!r} is not a date; write it like 2026-05-04", param, ctx)


@click.command(epilog=STATUSES)
@click.argument("record", type=click.Path(path_type=Path))
@click.option(
    "--format",
    "form",
    type=click.Choice(["text", "json"]),
    default="text",
    show_default=True,
    help="How to print the result.",
)
@click.option("--as-of", type=Day(), help="Judge by the tables in force on this date (YYYY-MM-DD).  [default: today]")
@click.option(
    "--edition",
    type=click.IntRange(1900, 2200),
    metavar="YEAR",
    help="Judge by the tables of this edition year instead.",
)
@rules_option
@click.option(
    "--amend",
    "amended",
    type=click.Path(path_type=Path),
    multiple=True,
    metavar="FILE",
    help="Apply this file of local amendments; repeatable.",
)
@click.option(
    "--fail-on",
    type=click.Choice(data("grades")["grades"]),
    default="remark",
    show_default=True,
    help="Least grade that gives exit status 1.",
)
@click.option("--include-possible", is_flag=True, help="Let possible defects count for the exit status.")
@click.option("--all", "everything", is_flag=True, help="List every open fact and every rule.")
@click.option("--times", is_flag=True, help="Print the time each rule took, on standard error.")
def check(
    record: Path, form: str, as_of: str | None, edition: int | None, named: tuple[Path, ...], amended: tuple[Path, ...],
    fail_on: str, include_possible: bool, everything: bool, times: bool,
) -> None:  # fmt: skip
    """Judge RECORD, a YAML or JSON file, and print its defects worst first."""
    from asfound.judge.rules import BadRule
    from asfound.load import Refused
    from asfound.render.asdata import RunFacts
    from asfound.survey import survey

    if as_of and edition:
        raise click.UsageError("give --as-of or --edition, not both")
    day = as_of or (f"{edition}-12-31" if edition else date.today().isoformat())
    spent: dict[str, float] | None = {} if times else None
    try:
        done = survey(record, day, named=named, amended=amended, times=spent)
    except Refused as refused:
        for sentence in refused.sentences():
            click.echo(sentence, err=True)
        count = len(refused.problems)
        click.echo(
            f"The record was not judged: {count} problem{'s' if count > 1 else ''}. Nothing was changed.", err=True
        )
        sys.exit(REFUSED)
    except BadRule as error:
        click.echo(f"Rules: {error}.", err=True)
        sys.exit(USAGE)
    run = RunFacts(
        as_of=day,
        edition=str(edition or ""),
        rules=tuple((r.name, r.revision) for r in done.rules),
        named=tuple(map(str, named)),
        amendments=done.tables.amendments.given,
    )
    if form == "json":
        import json

        from asfound.render.asdata import as_data

        click.echo(json.dumps(as_data(done.record, run, done.results), indent=1, ensure_ascii=False))
    else:
        from asfound.render.text import as_text

        click.echo(as_text(done.record, run, done.results, everything=everything), nl=False)
    if spent is not None:
        for name, seconds in sorted(spent.items(), key=lambda pair: -pair[1]):
            click.echo(f"{seconds * 1000:9.2f} ms  {name}", err=True)
    sys.exit(status(done.results, fail_on, include_possible))


def status(results: Any, fail_on: str, include_possible: bool) -> int:
    """The exit status of a result; see the list of statuses in the help."""
    totals = results.totals
    if totals["rule failed"]:
        return RULE_FAILED
    if not any(totals[outcome] for outcome in ("defect", "possible", "clear")):
        click.echo(
            "Nothing was checked: the record holds nothing yet that a rule can decide by. This is not an all-clear; "
            "add cables, boxes, joints and devices.",
            err=True,
        )
        return NOTHING
    grades = data("grades")["grades"]
    counted = [
        f for f in results.findings
        if grades.index(f.grade) <= grades.index(fail_on) and (include_possible or f.certainty != "possible")
    ]  # fmt: skip
    return DEFECT if counted else OK

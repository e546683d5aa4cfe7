"""`asfound check`."""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path
from typing import Any

import click

from asfound.command import DEFECT, NOTHING, OK, RULE_FAILED, STATUSES, rules_option
from asfound.command.reading import (
    accepted,
    accepted_option,
    amend_option,
    as_of_option,
    edition_option,
    format_option,
    judged_on,
    read_acceptances,
    run_facts,
)
from asfound.data import data


@click.command(epilog=STATUSES)
@click.argument("record", type=click.Path(path_type=Path))
@format_option
@as_of_option
@edition_option
@rules_option
@amend_option
@click.option(
    "--fail-on",
    type=click.Choice(data("grades")["grades"]),
    default="remark",
    show_default=True,
    help="Least grade that gives exit status 1.",
)
@accepted_option
@click.option("--include-possible", is_flag=True, help="Let possible defects count for the exit status.")
@click.option("--all", "everything", is_flag=True, help="List every open fact and every rule.")
@click.option("--times", is_flag=True, help="Print the time each rule took, on standard error.")
def check(
    record: Path, form: str, as_of: str | None, edition: int | None, named: tuple[Path, ...], amended: tuple[Path, ...],
    fail_on: str, acceptances: Path | None, include_possible: bool, everything: bool, times: bool,
) -> None:  # fmt: skip
    """Judge RECORD, a YAML or JSON file, and print its defects worst first."""
    from asfound.survey import survey

    day = judged_on(as_of, edition)
    spent: dict[str, float] | None = {} if times else None
    file = read_acceptances(acceptances)
    done = accepted(lambda: survey(record, day, named=named, amended=amended, times=spent), "The record was not judged")
    run = run_facts(done, day, edition, named)
    if file is not None:
        from asfound.compare.former import accepted_in

        run = replace(run, accepted=accepted_in(done, file, named))
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
    sys.exit(status(done.results, fail_on, include_possible, run.accepted))


def status(results: Any, fail_on: str, include_possible: bool, held: Any = None) -> int:
    """The exit status of a result; see the list of statuses in the help. What is accepted in `held` does not count."""
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
        and not (held is not None and held.in_force(f.identity))
    ]  # fmt: skip
    return DEFECT if counted else OK

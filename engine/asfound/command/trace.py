"""`asfound trace`."""

from __future__ import annotations

import sys
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from asfound.command import OK, USAGE, rules_option
from asfound.command.reading import accepted, as_of_option, format_option, run_facts

if TYPE_CHECKING:
    from asfound.render.traced import Traced

STATUSES = """\b
Exit status:
  0  printed (this is not an all-clear)
  2  the command or a rule pack is not usable as given
  3  the record is refused; every problem is listed
"""


@click.command(epilog=STATUSES)
@click.argument("record", type=click.Path(path_type=Path))
@click.option(
    "--at",
    metavar="TAG",
    help="Only this: a breaker (A 6) or panel, a box or device, a cable or conductor (W11 black).",
)
@click.option("--labels", "what", flag_value="labels", help="Print what to write on each end of each cable.")
@click.option("--log", "what", flag_value="log", help="Print how the states change, log entry by log entry.")
@format_option
@as_of_option
@rules_option
@click.option("--no-rules", "unjudged", is_flag=True, help="Run no rules: no flags, and quicker.")
def trace(
    record: Path, at: str | None, what: str | None, form: str, as_of: str | None, named: tuple[Path, ...],
    unjudged: bool,
) -> None:  # fmt: skip
    """Show the circuits of RECORD as trees: breaker, cable, box, device.

    Each line says how its ungrounded conductor stands (live, proven dead, or to
    be treated as live), how far it is traced, and what was flagged there. What
    no recorded way joins to a breaker is listed after the circuits.
    """
    from asfound.render.traced import NotThere, data_of, text_of

    if at is not None and what is not None:
        raise click.UsageError(f"give --at or --{what}, not both")
    judged = not unjudged and what is None
    if not judged and (named or as_of):
        raise click.UsageError(f"{f'--{what}' if what else '--no-rules'} runs no rules; leave out --rules and --as-of")
    day = as_of or date.today().isoformat()
    traced = accepted(lambda: _read(record, day, named, judged=judged), "The record was not traced")
    try:
        shown: Any = text_of(traced, at, what) if form == "text" else data_of(traced, at, what)
    except NotThere as error:
        click.echo(f"There is no {error}.", err=True)
        sys.exit(USAGE)
    if form == "json":
        import json

        shown = json.dumps(shown, indent=1, ensure_ascii=False) + "\n"
    click.echo(shown, nl=False)
    sys.exit(OK)


def _read(path: Path, day: str, named: tuple[Path, ...], *, judged: bool) -> Traced:
    """The record traced, and judged when that is wanted. Raises `Refused` and `BadRule`."""
    from asfound.load import load_file
    from asfound.pause import collector_paused
    from asfound.render.asdata import RunFacts
    from asfound.render.traced import Traced
    from asfound.survey import read_record, survey
    from asfound.trace import trace as traced

    if judged:
        done = survey(path, day, named=named)
        return Traced(done.installation, done.results, run_facts(done, day, None, named))
    with collector_paused():
        return Traced(traced(read_record(load_file(path))), None, RunFacts(day, "", ()))

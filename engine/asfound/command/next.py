"""`asfound next`."""

from __future__ import annotations

import sys
from datetime import date
from pathlib import Path

import click

from asfound.command import NOTHING, OK, rules_option
from asfound.command.reading import accepted, amend_option, as_of_option, format_option, run_facts

STATUSES = """\b
Exit status:
  0  steps were printed (nothing is called fit for use by this)
  2  the command or a rule pack is not usable as given
  3  the record is refused; every problem is listed
  5  nothing in the record is open to an observation (this is not an all-clear)
"""


@click.command(epilog=STATUSES)
@click.argument("record", type=click.Path(path_type=Path))
@as_of_option
@click.option("--steps", type=click.IntRange(1, 1000), default=10, show_default=True, help="How many steps to print.")
@click.option("--all", "everything", is_flag=True, help="Print every step that settles anything.")
@format_option
@rules_option
@amend_option
def next(
    record: Path, as_of: str | None, steps: int, everything: bool, form: str, named: tuple[Path, ...],
    amended: tuple[Path, ...],
) -> None:  # fmt: skip
    """Rank what to look at or test next in RECORD, gravest first.

    Each step says where, with which tool, what comes first, who should do it
    and what each outcome would mean. Nothing here is leave to work on a circuit:
    unknown is treated as live.
    """
    from asfound.plan import plan
    from asfound.survey import survey

    day = as_of or date.today().isoformat()
    done = accepted(lambda: survey(record, day, named=named, amended=amended), "Nothing was ranked")
    ranked = plan(done, None if everything else steps)
    run = run_facts(done, day, None, named)
    if form == "json":
        import json

        from asfound.render.steps import steps_data

        click.echo(json.dumps(steps_data(ranked, run), indent=1, ensure_ascii=False))
    elif ranked.steps:
        from asfound.render.steps import steps_text

        click.echo(steps_text(ranked, run), nl=False)
    if not ranked.steps:
        click.echo(
            "Nothing in the record is open to an observation. This is not an all-clear: what was not recorded was not "
            "ranked, and unknown is treated as live.",
            err=True,
        )
        sys.exit(NOTHING)
    sys.exit(OK)

"""`asfound compare`."""

from __future__ import annotations

import sys
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import click

from asfound.command import DEFECT, NOTHING, OK, RULE_FAILED, rules_option
from asfound.command.progress import told
from asfound.command.reading import (
    Day,
    accepted,
    accepted_option,
    amend_option,
    as_of_option,
    format_option,
    read_acceptances,
)

if TYPE_CHECKING:
    from asfound.accepted import Accepted
    from asfound.compare import Comparison, Entry

STATUSES = """\b
Exit status:
  0  nothing is new and nothing is worse (this is not an all-clear)
  1  something is new, or worse: of a graver grade, or no longer a question
  2  the command, a rule pack or a file of accepted findings is not usable
  3  a record is refused; every problem is listed
  4  a rule failed on some item; its silence means nothing
  5  there was nothing to check in one of the records
Questions (possible findings), what is only newly seen, and what is accepted
until the date of the run do not count; options below let them count.
"""


@click.command(epilog=STATUSES)
@click.argument("earlier", type=click.Path(path_type=Path))
@click.argument("later", type=click.Path(path_type=Path))
@format_option
@as_of_option
@click.option("--as-of-earlier", type=Day(), help="Judge the earlier record by the tables of this date instead.")
@click.option("--as-of-later", type=Day(), help="Judge the later record by the tables of this date instead.")
@click.option("--work-began", type=Day(), help="Say of each finding whether it was recorded before this day.")
@rules_option
@amend_option
@accepted_option
@click.option("--include-possible", is_flag=True, help="Let questions count for the exit status.")
@click.option("--include-newly-seen", is_flag=True, help="Let what is newly seen count for the exit status.")
def compare(
    earlier: Path, later: Path, form: str, as_of: str | None, as_of_earlier: str | None, as_of_later: str | None,
    work_began: str | None, named: tuple[Path, ...], amended: tuple[Path, ...], acceptances: Path | None,
    include_possible: bool, include_newly_seen: bool,
) -> None:  # fmt: skip
    """Say what became of every finding between two records of one place.

    EARLIER was made first, such as before the work, LATER after it. Both are
    judged by the tables of one date unless two are given; then it is said
    which findings hang on the date alone. A thing with a new tag is known by
    its `was:` in the later record.
    """
    from asfound.compare import compare as compared
    from asfound.compare.former import accepted_in
    from asfound.render.comparison import Asked, comparison_data, comparison_text
    from asfound.survey import survey

    if as_of and (as_of_earlier or as_of_later):
        raise click.UsageError("give --as-of, or --as-of-earlier and --as-of-later, not both")
    if bool(as_of_earlier) != bool(as_of_later):
        raise click.UsageError("give both --as-of-earlier and --as-of-later, or --as-of for one date")
    day = as_of or as_of_later or date.today().isoformat()
    own = as_of_earlier or day
    file = read_acceptances(acceptances)
    undone = "The records were not compared"
    told("judging the earlier record")
    one = accepted(lambda: survey(earlier, day, named=named, amended=amended), undone)
    told("judging the later record")
    two = accepted(lambda: survey(later, day, named=named, amended=amended), undone)
    before = None if own == day else accepted(lambda: survey(earlier, own, named=named, amended=amended), undone)
    told("comparing the two")
    found = compared(one, two, before)
    held = accepted_in(two, file, named) if file is not None else None
    asked = Asked(work_began or "", tuple(map(str, named)), held)
    if form == "json":
        import json

        click.echo(json.dumps(comparison_data(found, asked), indent=1, ensure_ascii=False))
    else:
        click.echo(comparison_text(found, asked), nl=False)
    sys.exit(status(found, held, include_possible, include_newly_seen))


def status(found: Comparison, held: Accepted | None, include_possible: bool, include_newly_seen: bool) -> int:
    """The exit status of a comparison; see the list of statuses in the help."""
    totals = [survey.results.totals for survey in (found.earlier, found.later)]
    if any(total["rule failed"] for total in totals):
        return RULE_FAILED
    if not all(any(total[outcome] for outcome in ("defect", "possible", "clear")) for total in totals):
        click.echo("Nothing was checked in one of the records. This is not an all-clear.", err=True)
        return NOTHING

    def counts(entry: Entry) -> bool:
        if held is not None and held.in_force(entry.finding.identity):
            return False
        if entry.finding.certainty == "possible" and not include_possible:
            return False
        return entry.outcome == "new" or entry.worse or (include_newly_seen and entry.outcome == "newly seen")

    return DEFECT if any(map(counts, found.entries)) else OK

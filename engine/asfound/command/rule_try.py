"""`asfound rule try`."""

from __future__ import annotations

import sys
from datetime import date
from pathlib import Path

import click

from asfound.command import NOTHING, OK, RULE_FAILED, USAGE, rules_option
from asfound.command.reading import accepted, as_of_option, rules_speak_aside, tell
from asfound.names import Names

STATUSES = """\b
Exit status:
  0  shown, whatever the rule found (this is not a judgement of the record)
  2  the command or a rule pack is not usable as given, or no item has the tag
  3  the record is refused; every problem is listed
  4  shown, and the rule failed on an item
  5  the record holds no item of the kind the rule looks at
"""


@click.command("try", epilog=STATUSES)
@click.argument("rule")
@click.argument("record", type=click.Path(path_type=Path))
@click.option("--item", "tag", default="", metavar="TAG", help="Show this item step by step.")
@rules_option
@as_of_option
@click.option("--verbose", "-v", is_flag=True, help="Show every step of every world, and every item.")
def try_(rule: str, record: Path, tag: str, named: tuple[Path, ...], as_of: str | None, verbose: bool) -> None:
    """Show why RULE did or did not fire on RECORD.

    Each fact in the order of reading, with its value and where it was written,
    each condition and the way it went, each table row, in every world that
    doubtful facts allow; then certainty and grade. Without --item all items of
    the kind are listed, or the only one is shown.
    """
    from dataclasses import replace

    from asfound.kit.packs import in_use, retired_rules
    from asfound.kit.trial import NoSuchItem, items_for, tried_on
    from asfound.plugins import collect
    from asfound.render.trial import trial_text, trials_text
    from asfound.survey import survey

    day = as_of or date.today().isoformat()
    collected = accepted(lambda: collect(named), "Nothing was tried")
    try:
        found = collected.rule(rule)
    except KeyError:
        gone = accepted(lambda: retired_rules(in_use(named)), "Nothing was tried").get(rule)
        if gone is not None:
            tell(f"{gone.words}.")
            sys.exit(USAGE)
        names = Names(one.name for one in collected.rules)
        close = names.close(rule)
        hint = f"did you mean {close[0]!r}" if close else "asfound explain lists them all; --rules PATH adds your own"
        tell(f"There is no rule named {rule!r}; {hint}.")
        sys.exit(USAGE)
    alone = replace(collected, rules=(found,))
    done = accepted(lambda: survey(record, day, collected=alone), "Nothing was tried")
    try:
        items = items_for(found, done, tag)
    except NoSuchItem as error:
        tell(f"{record}: {error}.")
        sys.exit(USAGE)
    if not items:
        tell(f"Nothing was tried: the record holds no {found.of}, which is what {rule} looks at.")
        sys.exit(NOTHING)
    with rules_speak_aside():
        trials = [tried_on(found, item, done) for item in items]
    head = f"Record {record}, as of {day}. Rule in {found.file.name} line {found.line}, revision {found.revision}."
    if len(trials) == 1:
        click.echo(trial_text(trials[0], head, everything=verbose), nl=False)
    else:
        click.echo(trials_text(trials, head, everything=verbose), nl=False)
    sys.exit(RULE_FAILED if any(trial.error for trial in trials) else OK)

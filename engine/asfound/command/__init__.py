"""The command line: the only room that knows click and prints.

Exit statuses: 0 checked, nothing at or above the threshold; 1 a defect at or
above it; 2 the command was not used as it is meant, or a rule pack is not
usable; 3 the record is refused; 4 a rule failed; 5 there was nothing to check.

Commands about sealed documents keep to these meanings. `seal`: 0 sealed; 2; 3
the record or the older document is refused; 4 sealed, and a rule failed.
`verify`: 0 intact; 1 something differs; 2; 3 the file is refused, as it is no
sealed document; 4 intact, and the findings were not judged again in full.

`rule test`: 0 every promise kept; 1 one is broken; 2, or a file of rules cannot
be loaded; 5 nothing to test. `rule try`: 0 shown; 2; 3 the record is refused; 4
shown, and the rule failed; 5 no item of its kind. Neither speaks of defects.
"""

from __future__ import annotations

import importlib
from pathlib import Path
from typing import Any

import click

from asfound import __version__

OK, DEFECT, USAGE, REFUSED, RULE_FAILED, NOTHING = 0, 1, 2, 3, 4, 5

STATUSES = """\b
Exit status:
  0  checked; no defect at or above --fail-on (this is not an all-clear)
  1  a defect at or above --fail-on
  2  the command or a rule pack is not usable as given
  3  the record is refused; every problem is listed
  4  a rule failed on some item; its silence means nothing
  5  there was nothing to check
"""

rules_option = click.option(
    "--rules",
    "named",
    type=click.Path(path_type=Path),
    multiple=True,
    metavar="PATH",
    help="Also load this file or folder of rules; repeatable.",
)

_COMMANDS = {
    "check": "Judge a record: trace its circuits and report graded defects.",
    "explain": "Print the page of one rule, or list all rules.",
    "next": "Rank what to look at or test next, gravest first.",
    "trace": "Show the circuits as trees, one place or conductor, or what to write on labels.",
    "compare": "Compare two records: what was there before, repaired, new, not seen.",
    "report": "Write documents: PDF, web page, Word, spreadsheet.",
    "seal": "Seal a record with all it was judged by in one archive.",
    "verify": "Say what changed in a sealed archive.",
    "new": "Write a starter record to fill in.",
    "drill": "Turn a record into an exercise, score what is marked and explain it.",
    "rule": "Write, prove, try and hand on rules of your own.",
}


class _Lazy(click.Group):
    """Loads a command's module only when it is run, so that help and version load no rules."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(_COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in _COMMANDS:
            return None
        found: click.Command = getattr(importlib.import_module(f"asfound.command.{cmd_name}"), cmd_name)
        return found

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        with formatter.section("Commands"):
            formatter.write_dl(list(_COMMANDS.items()))


@click.command(
    cls=_Lazy, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 80}, epilog=STATUSES
)
@click.version_option(__version__, message="asfound %(version)s")
def main(**_: Any) -> None:
    """As-found wiring records in, graded defects out.

    Reads a record of wiring that nobody documented, traces its circuits and
    reports what can hurt someone, how sure that is, and what would settle it.
    It approves nothing: the adopted local code and licensed practice decide.
    """

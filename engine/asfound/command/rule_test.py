"""`asfound rule test`."""

from __future__ import annotations

import sys
from datetime import date

import click

from asfound.command import NOTHING, OK, USAGE
from asfound.command.reading import as_of_option, rules_speak_aside, tell
from asfound.names import Names

BROKEN = 1
STATUSES = """\b
Exit status:
  0  every rule keeps its promises on its own cases
  1  a promise is broken; every one is listed (with --strict, or a warning)
  2  the command was not used as it is meant, or a file cannot be loaded
  5  there was nothing to test
"""


@click.command(epilog=STATUSES)
@click.argument("paths", nargs=-1, metavar="[PATH...|built-in]")
@click.option("--rule", "only", multiple=True, metavar="NAME", help="Test this rule only; repeatable.")
@click.option("--verbose", "-v", is_flag=True, help="Show every case, what it read, and each fact changed.")
@click.option("--strict", is_flag=True, help="Let a warning give exit status 1 too.")
@as_of_option
def test(paths: tuple[str, ...], only: tuple[str, ...], verbose: bool, strict: bool, as_of: str | None) -> None:
    """Hold rules to everything they promise, by their own cases.

    PATH is a file or folder of rules; without one, the folder you are in.
    An installed pack goes by its name, and the rules of this package by built-in.

    Each fact that a case reads is left out, doubted, and put to its neighbours,
    so that a rule which ignores a fact does not pass. Failures come first, each
    with file, line, cause and next step; then what is only worth a look.
    """
    from asfound.judge.rules import BadRule
    from asfound.kit.prove import prove, prove_all
    from asfound.kit.prove_pick import pick
    from asfound.render.proof import proofs_text

    try:
        with rules_speak_aside():
            picked = pick(paths or (".",), as_of or date.today().isoformat())
    except BadRule as error:
        tell(f"Rules: {error}.")
        sys.exit(USAGE)
    rules = picked.rules
    if only:
        names = Names(rule.name for rule in rules)
        for name in only:
            if name not in names:
                tell(f"There is no rule named {name!r} here; {names.hint(name, 'rules')}.")
                sys.exit(USAGE)
        with rules_speak_aside():
            proofs = [prove(rule, picked.tables, timed=True) for rule in rules if rule.name in only]
        troubles = picked.troubles
    else:
        with rules_speak_aside():
            proofs, beside = prove_all(rules, picked.tables, timed=True)
        troubles = [*picked.troubles, *beside]
    if not proofs and not troubles:
        tell("Nothing was tested: there are no rules in what was named. Write one with asfound rule new.")
        sys.exit(NOTHING)
    click.echo(proofs_text(proofs, troubles, everything=verbose), nl=False)
    if picked.troubles:
        sys.exit(USAGE)
    found = [*troubles, *(one for proof in proofs for one in proof.all_troubles)]
    sys.exit(BROKEN if any(one.grave or strict for one in found) else OK)

"""`asfound rule new`."""

from __future__ import annotations

import shlex
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import click

from asfound.command import USAGE
from asfound.command.reading import tell


@click.command()
@click.argument("name", required=False)
@click.option("--of", "kind", metavar="KIND", help="Kind of item it looks at, such as box.")
@click.option("--form", metavar="FORM", help="python, or yaml for comparisons.")
@click.option(
    "--fact", "facts", multiple=True, metavar="FACT",
    help="A fact it looks at, or LIST.FACT of related items; repeatable.",
)  # fmt: skip
@click.option("--title", metavar="TEXT", help="What it finds, in one line.")
@click.option("--says", metavar="TEXT", help="Its sentence, with facts in braces: {box.cover}.")
@click.option("--severity", metavar="WORD", help="How bad the credible worst is.")
@click.option("--likelihood", metavar="WORD", help="How likely that is, as usually found.")
@click.option("--caution", metavar="TEXT", help="Signal word, colon, what can happen, what to keep away from.")
@click.option("--defer", metavar="TEXT", help="What is left to the local code and licensed practice.")
@click.option("--source", metavar="TEXT", help="The published text it rests on.")
@click.option("--basis", metavar="WORD", help="How the source is known.")
@click.option("--notes", metavar="TEXT", help="What it cannot see.")
@click.option(
    "--into", type=click.Path(path_type=Path, file_okay=False), default=Path(), metavar="FOLDER",
    help="Folder to write into; the current one by default.",
)  # fmt: skip
def new(
    name: str | None, kind: str | None, form: str | None, facts: tuple[str, ...], title: str | None, says: str | None,
    severity: str | None, likelihood: str | None, caution: str | None, defer: str | None, source: str | None,
    basis: str | None, notes: str | None, into: Path,
) -> None:  # fmt: skip
    """Write a new rule and its cases; ask for what no option gives.

    The rule runs as it is written. Its cases fail until they are filled in.
    Files that are there already are left alone.
    """
    from asfound.kit import new as kit

    try:
        named = _answer("Name of the rule, like cover-missing", name, lambda said: kit.free_name(said, into))
        of = _answer("Kind of item it looks at, like box", kind, kit.usable_kind)
        formed = _answer(
            "Form: python, or yaml for comparisons", form, kit.one_of("form", (kit.PYTHON, kit.YAML)), kit.PYTHON
        )
        if not facts:
            _list_facts(of)
        looked = _answer(
            "Facts it looks at, with commas between", ", ".join(facts) or None, lambda text: kit.usable_facts(of, text)
        )
        if not severity:
            _list_meanings("Severity, the credible worst", kit.severities())
        worst = _answer("Severity", severity, kit.one_of("severity", kit.severities()))
        if not likelihood:
            _list_meanings("Likelihood, where such a thing is found", kit.likelihoods())
        likely = _answer("Likelihood", likelihood, kit.one_of("likelihood", kit.likelihoods()))
        words = " or ".join(kit.signal_words(worst, likely))
        answers = kit.Answers(
            named, of, formed, looked,
            title=_answer("What it finds, in one line", title, kit.usable_text("the title")),
            says=_answer(
                "Its sentence, facts in braces", says, lambda text: kit.usable_sentence(of, looked, text),
                kit.drafted(of, looked),
            ),
            severity=worst, likelihood=likely,
            caution=_answer(
                f"Caution, beginning with {words} and a colon", caution,
                lambda text: kit.usable_caution(worst, likely, text),
            ),
            defer=_answer("Left to local code and licensed practice", defer, kit.usable_defer, kit.DEFER),
            source=_answer("Source", source, kit.usable_text("the source"), "common practice, no source"),
            basis=_answer(
                f"Basis ({', '.join(kit.bases())})", basis, kit.one_of("basis", kit.bases()), "common practice"
            ),
            notes=_answer("What it cannot see", notes, kit.usable_text("the note"), kit.NOTES),
        )  # fmt: skip
    except (click.Abort, EOFError):
        tell("\nNothing was written; answer every question, or give the answers as options.")
        sys.exit(USAGE)
    try:
        made = kit.write(answers, into)
    except FileExistsError as error:
        there = error.filename or error.args[0]
        tell(f"{there} is there already and was left as it is; choose another name or folder.")
        sys.exit(USAGE)
    except OSError as error:
        tell(f"{into} cannot be written ({error.strerror}); check the folder and its permissions.")
        sys.exit(USAGE)
    rule, cases = made
    click.echo(f"Wrote {rule} and {cases}.")
    quoted = shlex.quote(str(rule))
    click.echo(f"Change the draft of its condition, fill in the cases, then: asfound rule test {quoted}")


def _answer(question: str, given: str | None, usable: Callable[[str], Any], otherwise: str | None = None) -> Any:
    """The answer from an option, which has to be usable, or from the person, who is asked until it is."""
    from asfound.kit.new import Unusable

    if given is not None:
        try:
            return usable(given)
        except Unusable as problem:
            tell(f"Not written: {problem}.")
            sys.exit(USAGE)
    while True:
        said = click.prompt(question, default=otherwise, type=str)
        try:
            return usable(said)
        except Unusable as problem:
            tell(f"  {problem}.")


def _list_facts(kind: str) -> None:
    """Show the facts of a kind before they are asked for."""
    from asfound.judge.views import facts_of
    from asfound.kit.facts_page import besides

    click.echo(f"Facts of a {kind}:")
    for name, held in facts_of(kind).items():
        unit = f" [{held['unit']}]" if "unit" in held else ""
        sort, _, of = str(held["is"]).partition(" ")
        listed = f" (list of {of} items)" if sort == "items" else f" (a {of})" if sort == "item" else ""
        click.echo(click.wrap_text(f"{name}{unit}{listed}: {held['means']}", 80, "  ", "      "))
    click.echo(click.wrap_text(besides(kind), 80))
    lists = [name for name, held in facts_of(kind).items() if str(held["is"]).startswith(("items ", "item "))]
    if lists:
        inner = next(iter(facts_of(str(facts_of(kind)[lists[0]]["is"]).partition(" ")[2])))
        click.echo(click.wrap_text(f"A fact of related items is written like {lists[0]}.{inner}.", 80))


def _list_meanings(what: str, words: list[str]) -> None:
    """Show what words of a scale mean before one of them is asked for."""
    from asfound.data import data

    click.echo(f"{what}:")
    for word in words:
        click.echo(f"  {word}: {data('grades')['risk_meanings'][word]}")

"""`asfound explain`."""

from __future__ import annotations

import sys
from datetime import date
from pathlib import Path

import click

from asfound.command import USAGE, rules_option
from asfound.command.reading import rules_speak_aside
from asfound.names import Names


@click.command()
@click.argument("rule", required=False)
@rules_option
@click.option(
    "--pages",
    type=click.Path(path_type=Path, file_okay=False),
    metavar="FOLDER",
    help="Write a page for every rule, and an index, into this folder.",
)
def explain(rule: str | None, named: tuple[Path, ...], pages: Path | None) -> None:
    """Print the page of RULE; without it, list all rules."""
    from asfound.judge.results import risk_of
    from asfound.judge.rules import BadRule
    from asfound.judge.tables import TableSet
    from asfound.kit.packs import in_use, retired_rules
    from asfound.plugins import collect

    try:
        packs = in_use(named)
        with rules_speak_aside():
            collected = collect(named)
        tables = TableSet(collected.tables, date.today().isoformat())
    except BadRule as error:
        click.echo(f"Rules: {error}.", err=True)
        sys.exit(USAGE)
    if pages is not None:
        from asfound.render.rulebook import rulebook

        newest = max(edition.effective for table in collected.tables for edition in table.editions)
        with rules_speak_aside():
            book = rulebook(collected.rules, TableSet(collected.tables, newest))
        try:
            for name, text in book.items():
                path = pages / name
                path.parent.mkdir(parents=True, exist_ok=True)
                path.write_text(text, encoding="utf-8")
        except OSError as error:
            click.echo(f"{pages} cannot be written ({error.strerror}); check the folder and its permissions.", err=True)
            sys.exit(USAGE)
        click.echo(f"Wrote {len(book)} pages to {pages}.")
        return
    if rule is None:
        topic = ""
        for one in collected.rules:
            if one.topic != topic:
                topic = one.topic
                click.echo(f"{topic}")
            click.echo(f"  {one.name:<34} {risk_of(one):<8} {one.of}")
        return
    try:
        found = collected.rule(rule)
    except KeyError:
        retired = retired_rules(packs).get(rule)
        if retired is not None:
            click.echo(f"The rule {retired.words}.")
            for name in retired.instead:
                click.echo(f"asfound explain {name} prints the page of {name}.")
            return
        close = Names(one.name for one in collected.rules).close(rule)
        hint = f"did you mean {close[0]!r}" if close else "asfound explain lists them all"
        click.echo(f"There is no rule named {rule!r}; {hint}.", err=True)
        sys.exit(USAGE)
    from asfound.render.rulepage import rule_page

    with rules_speak_aside():
        page = rule_page(found, tables)
    click.echo(page, nl=False)

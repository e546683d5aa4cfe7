"""`asfound explain`."""

from __future__ import annotations

import sys
from datetime import date
from pathlib import Path

import click

from asfound.command import USAGE
from asfound.wording import nearest


@click.command()
@click.argument("rule", required=False)
@click.option(
    "--rules",
    "named",
    type=click.Path(path_type=Path),
    multiple=True,
    metavar="PATH",
    help="Also load this file or folder of rules; repeatable.",
)
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
    from asfound.plugins import collect

    try:
        collected = collect(named)
        tables = TableSet(collected.tables, date.today().isoformat())
    except BadRule as error:
        click.echo(f"Rules: {error}.", err=True)
        sys.exit(USAGE)
    if pages is not None:
        from asfound.render.rulebook import rulebook

        newest = max(edition.effective for table in collected.tables for edition in table.editions)
        book = rulebook(collected.rules, TableSet(collected.tables, newest))
        for name, text in book.items():
            path = pages / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(text, encoding="utf-8")
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
        known = [one.name for one in collected.rules]
        guess = nearest(rule, known)
        hint = f"did you mean {guess!r}" if guess else "asfound explain lists them all"
        click.echo(f"There is no rule named {rule!r}; {hint}.", err=True)
        sys.exit(USAGE)
    from asfound.render.rulepage import rule_page

    click.echo(rule_page(found, tables), nl=False)

"""`asfound rule facts`."""

from __future__ import annotations

import sys

import click

from asfound.command import USAGE
from asfound.command.reading import tell


@click.command()
@click.argument("kinds_named", metavar="[KIND]...", nargs=-1)
@click.option("--typed", "form", flag_value="typed", help="Print the typed items for editors (asfound/items.py).")
@click.option("--language", "form", flag_value="language", help="Print the words and bounds of conditions in YAML.")
@click.option("--page", "form", flag_value="page", help="Print the page of all kinds and facts.")
def facts(kinds_named: tuple[str, ...], form: str | None) -> None:
    """Print every fact a rule can read of each KIND; without one, list the kinds of items."""
    from asfound.kit.catalogue import kinds
    from asfound.kit.facts_page import besides, facts_page, kind_page, kinds_list
    from asfound.kit.typed import typed_module
    from asfound.names import Names

    if kinds_named and form is not None:
        raise click.UsageError(f"--{form} prints all kinds; leave out {kinds_named[0]!r}, or --{form}")
    if form == "language":
        from asfound.kit.language import language_page

        click.echo(language_page(), nl=False)
        return
    if form is not None:
        click.echo(typed_module() if form == "typed" else facts_page(), nl=False)
        return
    if not kinds_named:
        click.echo(f"{kinds_list()}\nasfound rule facts KIND prints the facts of one of them.")
        return
    for kind in kinds_named:
        if kind not in kinds():
            tell(f"There is no kind of item called {kind!r}; {Names(kinds()).hint(kind, 'kinds')}.")
            sys.exit(USAGE)
    for kind in kinds_named:
        click.echo(kind_page(kind), nl=False)
        click.echo(f"\n{click.wrap_text(besides(kind), 80)}")

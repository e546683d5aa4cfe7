"""`asfound new`."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from asfound.command import USAGE

SUPPLIES = ("120/240 split phase", "208Y/120", "230 single phase")


@click.command()
@click.argument("file", type=click.Path(path_type=Path))
@click.option(
    "--supply", type=click.Choice(SUPPLIES), default=SUPPLIES[0], show_default=True, help="System of the supply."
)
@click.option("--panel", default="A", show_default=True, metavar="TAG", help="Tag of the first panel.")
@click.option(
    "--spaces", type=click.IntRange(1, 84), default=12, show_default=True, help="Breaker spaces in that panel."
)
def new(file: Path, supply: str, panel: str, spaces: int) -> None:
    """Write a commented starter record to FILE; an existing file is left alone."""
    import json
    import re

    from asfound.render.starter import starter
    from asfound_schemas import schema

    tag = schema("record")["$defs"]["tag"]
    if not re.search(tag["pattern"], panel) or len(panel) > tag["maxLength"]:
        click.echo(f"{panel!r} cannot be a tag; {tag['description']}", err=True)
        sys.exit(USAGE)
    try:
        with file.open("x", encoding="utf-8") as handle:
            handle.write(
                starter(supply, panel if re.fullmatch(r"[A-Za-z][A-Za-z0-9 ]*", panel) else json.dumps(panel), spaces)
            )
    except FileExistsError:
        click.echo(f"{file} is there already and was left as it is; name another file.", err=True)
        sys.exit(USAGE)
    except OSError as error:
        click.echo(f"{file} cannot be written ({error.strerror}); check the folder and its permissions.", err=True)
        sys.exit(USAGE)
    click.echo(f"Wrote {file}. Fill it in, then: asfound check {file}")

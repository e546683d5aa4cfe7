"""Progress of long work, on standard error, only where somebody is watching."""

from __future__ import annotations

import sys

import click


def told(words: str) -> None:
    """Say what is being done now."""
    if sys.stderr.isatty():
        click.echo(f"  {words} ...", err=True)

"""`asfound rule`: the training coordinator's kit. Each command is loaded only when it is run."""

from __future__ import annotations

import importlib

import click

_COMMANDS = {
    "new": ("rule_new", "new", "Ask what a rule looks at and says, and write it with its cases."),
    "test": ("rule_test", "test", "Hold rules to everything they promise, by their own cases."),
    "try": ("rule_try", "try_", "Show step by step why a rule did or did not fire on a record."),
    "facts": ("rule_facts", "facts", "Print every kind of item and every fact a rule can read."),
    "pack": ("rule_pack", "pack", "Check a pack of rules and build a wheel to hand on."),
    "disagree": ("rule_pack", "disagree", "Show side by side where packs of rules disagree."),
}


class _Kit(click.Group):
    """Loads the module of a command only when that is run."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(_COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in _COMMANDS:
            return None
        module, name, _ = _COMMANDS[cmd_name]
        found: click.Command = getattr(importlib.import_module(f"asfound.command.{module}"), name)
        return found

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        with formatter.section("Commands"):
            formatter.write_dl([(name, says) for name, (_, _, says) in _COMMANDS.items()])


@click.command(cls=_Kit)
def rule() -> None:
    """Write, prove, try and hand on rules."""

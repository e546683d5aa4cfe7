"""Collect rules and tables. pluggy brings the modules together; it never runs a rule.

Built-in and installed rules register under the entry point group
`asfound.rules`. A folder or file of rules is loaded only when it is named by
the person who runs the command.
"""

from __future__ import annotations

import contextlib
import functools
import hashlib
import importlib.metadata
import importlib.util
import sys
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from types import ModuleType
from typing import Any

import pluggy

from asfound.judge.rules import RULES, BadRule, Rule
from asfound.judge.tables import Table, read_tables

GROUP = "asfound.rules"
_spec = pluggy.HookspecMarker("asfound")


class Hooks:
    """What a rule package may provide."""

    @_spec
    def asfound_rules(self) -> Iterable[ModuleType]:
        """The modules that hold its rules."""
        raise NotImplementedError

    @_spec
    def asfound_tables(self) -> Iterable[Path]:
        """The table files it brings."""
        raise NotImplementedError


@dataclass(frozen=True, slots=True)
class Collected:
    """Rules in order of topic and name, and all tables."""

    rules: tuple[Rule, ...]
    tables: tuple[Table, ...]

    def rule(self, name: str) -> Rule:
        """The rule of this name. Raises `KeyError`."""
        for rule in self.rules:
            if rule.name == name:
                return rule
        raise KeyError(name)


def collect(paths: Iterable[Path] = ()) -> Collected:
    """Rules and tables of every installed package and of the named files and folders.

    Raises `BadRule` for two rules of one name, or a package that cannot be loaded.
    """
    manager = pluggy.PluginManager("asfound")
    manager.add_hookspecs(Hooks)
    for entry in sorted(importlib.metadata.entry_points(group=GROUP), key=lambda entry: entry.name):
        with _loading(f"the rule package {entry.name!r} ({entry.value})"):
            manager.register(entry.load(), name=entry.name)
    modules: list[ModuleType] = _brought(manager.hook.asfound_rules)
    files: list[Path] = [Path(path) for path in _brought(manager.hook.asfound_tables)]
    for path in {Path(path).resolve(): Path(path) for path in paths}.values():
        more_modules, more_files = _named(path)
        modules += more_modules
        files += more_files
    rules: dict[str, Rule] = {}
    for module in dict.fromkeys(modules):
        for rule in rules_in(module):
            held = rules.setdefault(rule.name, rule)
            if held is not rule:
                one, two = (f"{r.file} line {r.line}" for r in (held, rule))
                raise BadRule(f"two rules are named {rule.name!r}: {one} and {two}; rename one of them")
    ordered = sorted(rules.values(), key=lambda rule: (rule.topic, rule.name))
    return Collected(tuple(ordered), tuple(t for file in dict.fromkeys(files) for t in _tables(file)))


def _brought(hook: Any) -> list[Any]:
    """What every package answers to a hook, in order of their names."""
    found: list[Any] = []
    for answer in sorted(hook.get_hookimpls(), key=lambda answer: str(answer.plugin_name)):
        with _loading(f"the rule package {answer.plugin_name!r}"):
            found += answer.function()
    return found


@contextlib.contextmanager
def _loading(what: str) -> Iterator[None]:
    """Turn whatever goes wrong in somebody else's module into `BadRule`, naming it."""
    try:
        yield
    except BadRule:
        raise
    except (Exception, SystemExit) as error:
        raise BadRule(f"{what} cannot be loaded: {type(error).__name__}: {error}") from error


@functools.cache
def _tables(file: Path) -> tuple[Table, ...]:
    return tuple(read_tables(file))


def rules_in(module: ModuleType) -> list[Rule]:
    """The rules defined in a module, in order of definition."""
    return list(vars(module).get(RULES, ()))


def _named(path: Path) -> tuple[list[ModuleType], list[Path]]:
    """Rules and tables of a file or folder that was named."""
    if path.is_dir():
        sources = sorted(path.glob("*.py"))
        tables = sorted((path / "tables").glob("*.yaml"))
        if not sources and not tables:
            raise BadRule(f"{path} holds no rules: no .py file in it and no tables/*.yaml")
    elif path.suffix == ".py" and path.is_file():
        sources, tables = [path], sorted((path.parent / "tables").glob("*.yaml"))
    else:
        raise BadRule(f"{path} is neither a folder nor a .py file of rules")
    return [_load(source) for source in sources], tables


def _load(source: Path) -> ModuleType:
    name = f"asfound_named_{hashlib.sha256(str(source.resolve()).encode()).hexdigest()[:12]}.{source.stem}"
    spec = importlib.util.spec_from_file_location(name, source)
    if spec is None or spec.loader is None:
        raise BadRule(f"{source} cannot be loaded as Python")
    module = importlib.util.module_from_spec(spec)
    sys.modules[name] = module
    try:
        with _loading(str(source)):
            spec.loader.exec_module(module)
    except BadRule:
        del sys.modules[name]
        raise
    return module

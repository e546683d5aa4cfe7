"""Collect rules and tables. pluggy brings the modules together; it never runs a rule.

Built-in and installed rules register under the entry point group
`asfound.rules`. A folder or file of rules is loaded only when it is named by
the person who runs the command. Rules are Python modules, or YAML files whose
names end in `.rules.yaml`. The names of facts in named and installed rules are
held against the catalogue at load; those in the built-in ones by the tests, so
that starting costs no more.
"""

from __future__ import annotations

import contextlib
import functools
import hashlib
import importlib.metadata
import importlib.util
import sys
from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from types import ModuleType
from typing import Any

import pluggy

from asfound.judge.rules import RULES, BadRule, Rule
from asfound.judge.tables import Table, read_tables

GROUP = "asfound.rules"
OWN = "asfound"
"""The distribution whose own rules the tests hold against the catalogue of facts."""
NAMED = "asfound_named_"
"""How the names of modules of named files begin."""
FORMS = ".rules.yaml"
"""How the name of a file of rules in YAML ends."""
_spec = pluggy.HookspecMarker("asfound")


class Hooks:
    """What a rule package may provide."""

    @_spec
    def asfound_rules(self) -> Iterable[ModuleType]:
        """The modules that hold its rules."""
        raise NotImplementedError

    @_spec
    def asfound_rule_files(self) -> Iterable[Path]:
        """Its files of rules in YAML."""
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


def collect(paths: Iterable[Path] = (), *, wording: bool = True) -> Collected:
    """Rules and tables of every installed package and of the named files and folders.

    The folder of a pack that is installed too stands for the installed one. With
    `wording` false, what rules from outside say of themselves is left to their proof.

    Raises `BadRule` for two rules of one name, or a package that cannot be loaded.
    """
    paths = tuple(paths)
    manager = pluggy.PluginManager("asfound")
    manager.add_hookspecs(Hooks)
    own: set[str] = set()
    replaced = _replaced(paths)
    for entry in sorted(importlib.metadata.entry_points(group=GROUP), key=lambda entry: entry.name):
        if entry.name in replaced:
            continue
        with _loading(f"the rule package {entry.name!r} ({entry.value})"):
            manager.register(entry.load(), name=entry.name)
        if entry.dist is not None and entry.dist.name == OWN:
            own.add(entry.name)
    built_in: list[ModuleType] = _brought(manager.hook.asfound_rules, only=own)
    modules: list[ModuleType] = _brought(manager.hook.asfound_rules, but=own)
    forms: list[Path] = [Path(path) for path in _brought(manager.hook.asfound_rule_files)]
    files: list[Path] = [Path(path) for path in _brought(manager.hook.asfound_tables)]
    for path in {Path(path).resolve(): Path(path) for path in paths}.values():
        more_modules, more_forms, more_files = _named(path)
        modules += more_modules
        forms += more_forms
        files += more_files
    found = [rule for module in dict.fromkeys(built_in) for rule in rules_in(module)]
    outside: list[Rule] = []
    for module in dict.fromkeys(modules):
        outside += _checked(module) if module not in built_in else []
    tables = tuple(table for file in dict.fromkeys(files) for table in _tables(file))
    if forms:
        from asfound.kit.forms import check_tables, read_form_rules

        read = [rule for file in _once(forms) for rule in read_form_rules(file)]
        check_tables(read, tables)
        outside += read
    if outside and wording:
        from asfound.kit.outside import check_says

        check_says(outside)
    found += outside
    rules: dict[str, Rule] = {}
    for rule in found:
        held = rules.setdefault(rule.name, rule)
        if held is not rule:
            one, two = (f"{r.file} line {r.line}" for r in (held, rule))
            raise BadRule(f"two rules are named {rule.name!r}: {one} and {two}; rename one of them")
    if paths or len(own) < len(manager.get_plugins()):
        from asfound.kit.packs import check_packs

        packs = check_packs(paths, rules, (table.name for table in tables))
        homes = {pack.folder.resolve(): f"{pack.name} {pack.version}" for pack in packs}
        for rule in outside:
            home = homes.get(rule.file.resolve().parent, "")
            rules[rule.name] = replace(rule, outside=True, pack=home)
    ordered = sorted(rules.values(), key=lambda rule: (rule.topic, rule.name))
    return Collected(tuple(ordered), tables)


def _replaced(paths: Iterable[Path]) -> Collection[str]:
    """The installed packages that a pack among the named folders stands for."""
    if not paths:
        return ()
    from asfound.kit.packs import replaced_entries

    return replaced_entries(paths)


def _once(paths: Iterable[Path]) -> Iterable[Path]:
    """Each file once, however often and by whatever way it was named."""
    return {path.resolve(): path for path in paths}.values()


def _checked(module: ModuleType) -> list[Rule]:
    """The rules of a module from outside, held to what can be known by reading it. Raises `BadRule`."""
    from asfound.kit.fact_names import check_fact_names

    if module.__file__ and Path(module.__file__).with_name("pack.yaml").is_file() and "." in module.__name__:
        from asfound.kit.outside import check_source  # of an installed pack; files that are named were held before

        if not module.__name__.startswith(NAMED):
            check_source(Path(module.__file__), module.__name__.partition(".")[0])
    rules = rules_in(module)
    check_fact_names(rules)
    return rules


def _brought(hook: Any, only: set[str] | None = None, but: Collection[str] = ()) -> list[Any]:
    """What every package answers to a hook, or only those of some names, in order of their names."""
    found: list[Any] = []
    for answer in sorted(hook.get_hookimpls(), key=lambda answer: str(answer.plugin_name)):
        if answer.plugin_name in but or (only is not None and answer.plugin_name not in only):
            continue
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


def python_files(folder: Path) -> list[Path]:
    """The Python files of a folder of rules; tests that lie beside them are none."""
    return sorted(
        path
        for path in folder.glob("*.py")
        if path.name not in ("__init__.py", "conftest.py") and not path.stem.startswith("test_")
    )


def _named(path: Path) -> tuple[list[ModuleType], list[Path], list[Path]]:
    """Rules in Python, files of rules in YAML, and tables, of a file or folder that was named."""
    if path.is_dir():
        readable(path)
        sources, forms = python_files(path), sorted(path.glob(f"*{FORMS}"))
        tables = sorted((path / "tables").glob("*.yaml"))
        if not sources and not forms and not tables:
            raise BadRule(f"{path} holds no rules: no .py or {FORMS} file in it and no tables/*.yaml")
    elif path.name.endswith((".py", FORMS)) and path.is_file():
        sources, forms = ([], [path]) if path.name.endswith(FORMS) else ([path], [])
        tables = sorted((path.parent / "tables").glob("*.yaml"))
    else:
        raise BadRule(f"{path} is neither a folder nor a .py file of rules, nor one whose name ends in {FORMS}")
    return [_load(source) for source in sources], forms, tables


def readable(folder: Path) -> None:
    """Raise `BadRule` for a folder whose files cannot be listed; a search in it would find none, and not say why."""
    try:
        next(folder.iterdir(), None)
    except OSError as error:
        raise BadRule(f"{folder} cannot be read ({error.strerror}); check its permissions") from None


def _load(source: Path) -> ModuleType:
    from asfound.kit.outside import check_source

    check_source(source)
    name = f"{NAMED}{hashlib.sha256(str(source.resolve()).encode()).hexdigest()[:12]}.{source.stem}"
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

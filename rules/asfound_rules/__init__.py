"""Built-in rules, one folder a topic, cases beside each file; tables under tables/."""

from __future__ import annotations

import importlib
import pkgutil
from collections.abc import Iterable
from importlib import resources
from pathlib import Path
from types import ModuleType

from asfound.authoring import hookimpl


@hookimpl
def asfound_rules() -> Iterable[ModuleType]:
    """Every module of every topic folder."""
    found = []
    for topic in sorted(pkgutil.iter_modules(__path__), key=lambda module: module.name):
        if topic.ispkg and topic.name != "tables":
            package = importlib.import_module(f"{__name__}.{topic.name}")
            for module in sorted(pkgutil.iter_modules(package.__path__), key=lambda module: module.name):
                found.append(importlib.import_module(f"{package.__name__}.{module.name}"))
    return found


@hookimpl
def asfound_tables() -> Iterable[Path]:
    """Every table file."""
    folder = resources.files(__name__) / "tables"
    return sorted(Path(str(entry)) for entry in folder.iterdir() if entry.name.endswith(".yaml"))

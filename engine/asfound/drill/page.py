"""An exercise as one web page: the record place by place, inputs for marking, the score worked out in the page.

Without a script the record can still be read and marked on paper. The page loads
nothing from anywhere. The answers are in it, encoded so that nobody reads them
by accident; they are no secret, and the page says so.
"""

from __future__ import annotations

import base64
import hashlib
import json
from functools import cache
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from asfound.data import data
from asfound.drill import words
from asfound.drill.answers import topics
from asfound.drill.exercise import Exercise
from asfound.drill.score import OTHER


def page(exercise: Exercise) -> bytes:
    """The page as UTF-8."""
    environment = _environment()
    script = _source(environment, "page.js")
    held = base64.b64encode(json.dumps(_held(exercise), ensure_ascii=True).encode()).decode()
    made = environment.get_template("page.html").render(
        e=exercise,
        head=words.head(exercise),
        rules=_by_topic(exercise),
        grades=list(data("grades")["meanings"].items()),
        topics=words.topic_meanings(exercise),
        befores=[words.before(check) for check in exercise.checks],
        always=data("observations")["always"],
        other=OTHER,
        at_the_end=words.AT_THE_END,
        statement=data("wording")["statement"],
        css=Markup(_source(environment, "page.css")),
        script=Markup(script),
        script_hash=base64.b64encode(hashlib.sha256(script.encode()).digest()).decode(),
        held=held,
    )
    return made.encode("utf-8", "replace")


def _held(exercise: Exercise) -> dict[str, Any]:
    """What the script needs: the key, words for it, the answers, and the sentences of the next check."""
    answers = [
        {"title": danger.title, "grade": danger.grade, "said": words.explained(danger)} for danger in exercise.dangers
    ]
    titles: dict[str, str] = {name: title for name, title, _, _ in exercise.rules}
    titles |= {topic: f"{topic.replace('_', ' ')}: something else" for topic in topics(exercise)}
    titles[OTHER] = OTHER
    checks = [
        {"settles": words.settles(one), "more": words.more(one), "before": words.before(one)} for one in exercise.checks
    ]
    return {
        "exercise": exercise.identity,
        "key": exercise.key,
        "titles": titles,
        "tags": exercise.tags,
        "checks": checks,
        "answers": answers,
        "made": words.made(exercise),
    }


def _by_topic(exercise: Exercise) -> dict[str, list[tuple[str, str]]]:
    """Rules by topic: name and title."""
    listed: dict[str, list[tuple[str, str]]] = {}
    for name, title, topic, _ in exercise.rules:
        listed.setdefault(topic, []).append((name, title))
    return {topic: sorted(held, key=lambda pair: pair[1]) for topic, held in sorted(listed.items())}


def _source(environment: Environment, name: str) -> str:
    return str(environment.loader.get_source(environment, name)[0])  # type: ignore[union-attr]


@cache
def _environment() -> Environment:
    return Environment(
        loader=PackageLoader("asfound.drill", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )

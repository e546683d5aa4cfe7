"""The web page: one file with everything in it, readable without a script, on a phone and on paper."""

from __future__ import annotations

import base64
from collections.abc import Callable, Mapping, Sequence
from functools import cache
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

BLANK = Markup('<span class="small">to be filled in</span>')


def web_page(
    content: Mapping[str, Any],
    *,
    pictures: Mapping[int, bytes],
    drawings: Sequence[Mapping[str, str]] = (),
) -> bytes:
    """The page as UTF-8.

    `pictures` are JPEG by number of the photograph, `drawings` have a `title`
    and an `svg` that was made here and is trusted.
    """
    environment = _environment()
    macro: Callable[..., str] = environment.get_template("finding.html").module.finding  # type: ignore[attr-defined]
    supplied = content["people"]

    def photo(number: int) -> Markup:
        return _photo(content["photos"][number - 1], pictures.get(number))

    def filled(blank: Mapping[str, str]) -> str:
        return str(supplied.get(blank.get("from", ""), "") or "")

    made = environment.get_template("page.html").render(
        c=content,
        css=Markup(environment.loader.get_source(environment, "page.css")[0]),  # type: ignore[union-attr]
        map=[{"title": one["title"], "svg": Markup(one["svg"])} for one in drawings],
        finding=macro,
        photo=photo,
        filled=filled,
        blank=BLANK,
    )
    return made.encode("utf-8", "replace")


@cache
def _environment() -> Environment:
    made = Environment(
        loader=PackageLoader("asfound.report", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.globals["slug"] = lambda word: str(word).replace(" ", "-")
    return made


def _photo(held: Mapping[str, Any], picture: bytes | None) -> Markup:
    shows = ", ".join(held["shows"]) or "what it shows was not said"
    caption = f"Photograph {held['number']}: {shows}. {held['file']}"
    if held["on"]:
        caption += f", {held['by']}, {held['on']}"
    if picture is None:
        return Markup('<p class="small">{} (not shown: {})</p>').format(
            caption, "not beside the record" if not held["present"] else "it cannot be read"
        )
    source = base64.b64encode(picture).decode()
    return Markup('<figure><img alt="{}" src="data:image/jpeg;base64,{}"><figcaption>{}</figcaption></figure>').format(
        shows, source, caption
    )

"""The web page: one file with everything in it, readable without a script, on a phone and on paper."""

from __future__ import annotations

import base64
from collections.abc import Callable, Mapping, Sequence
from functools import cache
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from asfound.map import Drawing

BLANK = Markup('<span class="small">to be filled in</span>')


def web_page(
    content: Mapping[str, Any],
    *,
    pictures: Mapping[int, bytes],
    drawings: Sequence[Drawing] = (),
    narrow: Sequence[Drawing] = (),
) -> bytes:
    """The page as UTF-8.

    `pictures` are JPEG by number of the photograph. `drawings` are shown, and
    printed, as wide as paper; where there are `narrow` ones, a phone shows those
    first. Their SVG was made here and is trusted.
    """
    environment = _environment()
    macro: Callable[..., str] = environment.get_template("finding.html").module.finding  # type: ignore[attr-defined]

    def photo(number: int) -> Markup:
        return _photo(content["photos"][number - 1], pictures.get(number))

    made = environment.get_template("page.html").render(
        c=content,
        css=Markup(environment.loader.get_source(environment, "page.css")[0]),  # type: ignore[union-attr]
        map=[{"title": one.title, "svg": Markup(one.svg), "wide": one.wide} for one in drawings],
        narrow=[{"title": one.title, "svg": Markup(one.svg)} for one in narrow],
        finding=macro,
        photo=photo,
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
    caption = held["caption"]
    if picture is None:
        return Markup('<p class="small">{} (not shown: {})</p>').format(
            caption, "not beside the record" if not held["present"] else "it cannot be read"
        )
    source = base64.b64encode(picture).decode()
    return Markup('<figure><img alt="{}" src="data:image/jpeg;base64,{}"><figcaption>{}</figcaption></figure>').format(
        shows, source, caption
    )

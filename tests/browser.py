"""Headless Chromium for tests: what axe-core says of a page, and a picture of it.

The browser is the system's own; where it is not installed, tests that need it
say so and are skipped.
"""

from __future__ import annotations

import html
import json
import re
import shutil
import subprocess
from importlib import resources
from pathlib import Path
from typing import Any

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
FLAGS = ("--headless", "--no-sandbox", "--disable-gpu", "--hide-scrollbars", "--force-color-profile=srgb")
GRAVE = ("serious", "critical")


def accessibility(page: bytes, folder: Path, width: int, *, dark: bool = False) -> list[dict[str, Any]]:
    """The violations that axe-core finds on a page at this width, in pixels."""
    axe = resources.files("axe_core_python").joinpath("axe.min.js").read_text(encoding="utf-8")
    axe = axe.replace("</script", "<\\/script")
    run = (
        f"<script>{axe}</script><script>window.addEventListener('load',()=>axe.run("
        "document,{resultTypes:['violations']}).then(r=>{const p=document.createElement('pre');p.id='axe-result';"
        "p.textContent=JSON.stringify(r.violations.map(v=>({id:v.id,impact:v.impact,"
        "at:v.nodes.map(n=>n.target.join(' ')+' '+(n.any[0]||{}).message)})));document.body.append(p)}))</script>"
    )
    file = folder / f"axe-{width}-{dark}.html"
    file.write_bytes(page.replace(b"</body>", run.encode() + b"</body>"))
    scheme = ("--blink-settings=preferredColorScheme=0",) if dark else ()
    dumped = _run(f"--window-size={width},1600", *scheme, "--virtual-time-budget=30000", "--dump-dom", file.as_uri())
    found = re.search(rb'<pre id="axe-result">(.*?)</pre>', dumped, re.DOTALL)
    assert found is not None, "axe-core gave no result"
    violations: list[dict[str, Any]] = json.loads(html.unescape(found.group(1).decode()))
    return violations


def width_needed(page: bytes, folder: Path, width: int) -> int:
    """How wide the content of a page is at this width, in pixels; more than it when something sticks out."""
    probe = b"<script>window.addEventListener('load',()=>{document.title='wide '+document.documentElement.scrollWidth})</script>"
    file = folder / f"wide-{width}.html"
    file.write_bytes(page.replace(b"</body>", probe + b"</body>"))
    dumped = _run(f"--window-size={width},1600", "--virtual-time-budget=5000", "--dump-dom", file.as_uri())
    found = re.search(rb"<title>wide ([0-9]+)</title>", dumped)
    assert found is not None
    return int(found.group(1))


def _run(*arguments: str) -> bytes:
    assert CHROMIUM is not None
    return subprocess.run([CHROMIUM, *FLAGS, *arguments], capture_output=True, timeout=120, check=True).stdout

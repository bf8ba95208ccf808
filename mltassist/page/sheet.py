"""A page as one file of HTML: style, script, data, stills and sounds within it, no address but its own."""

from __future__ import annotations

import json
from base64 import b64encode
from collections.abc import Callable
from hashlib import sha256
from html import escape
from importlib.resources import files
from typing import Any

from mltassist.page.gather import Gathered

SCRIPTS = (
    *(
        "base",
        "media",
        "choices",
        "remarks",
        "places",
        "strip",
        "cards",
        "joins",
        "covers",
        "pauses",
        "lists",
    ),
    *("dark", "keys", "server", "main"),
)
"""In the order in which they are put together: each may use what stands before it."""


def page_html(data: dict[str, Any], *, served: bool = False, media: str = "") -> str:
    """The page for these data. served: it asks its origin for stills and sounds; else `media` holds them."""
    style, script = _static("page.css"), _script()
    parts = {
        "policy": escape(policy(script, style, served=served), quote=True),
        "title": escape(str(data["film"]["name"])),
        "style": style,
        "data": _json(data),
        "script": script,
        "media": media,
    }
    html = _static("page.html")
    # From the last to the first, so that nothing that is put in is looked through itself.
    for name in reversed(parts):
        before, mark, after = html.rpartition("{{" + name + "}}")
        html = before + parts[name] + after if mark else html
    return html


def whole_page(gathered: Gathered, on_part: Callable[[float], None] | None = None) -> str:
    """The page as one file that needs no other. on_part: told 0 to 1 as its stills and sounds are made."""
    held = [
        f'<script type="text/plain" id="m-{name}" data-kind="{medium.kind}">'
        f"{b64encode(medium.content).decode()}</script>"
        for name, medium in gathered.gallery.every(on_part)
    ]
    return page_html(gathered.data, media="\n".join(held))


def waiting_page(film: str, problem: str) -> str:
    """What is shown until there is a first plan: it asks again by itself."""
    style = _static("page.css")
    told = escape(problem or "The pass is being planned. This page comes up by itself when it is there.")
    parts = {
        "policy": f"default-src 'none'; style-src '{_hash(style)}'; img-src data:",
        "title": escape(film),
        "style": style,
        "told": told,
    }
    html = _static("waiting.html")
    for name, text in parts.items():
        html = html.replace("{{" + name + "}}", text)
    return html


def policy(script: str, style: str, *, served: bool = False) -> str:
    """What a browser may do with the page: run and apply what is in it, word for word, and nothing else."""
    own = "'self'" if served else "data: blob:"
    return "; ".join(
        (
            "default-src 'none'",
            f"script-src '{_hash(script)}'",
            f"style-src '{_hash(style)}'",
            f"img-src {own} data:" if served else f"img-src {own}",
            f"media-src {own}",
            f"connect-src {own if served else repr('none')}",
            "base-uri 'none'",
            "form-action 'none'",
        )
    )


def _hash(text: str) -> str:
    return f"sha256-{b64encode(sha256(text.encode()).digest()).decode()}"


def _json(data: object) -> str:
    """JSON that ends no script, whatever it holds."""
    text = json.dumps(data, ensure_ascii=False, separators=(",", ":"))
    return text.replace("<", "\\u003c").replace("\u2028", "\\u2028").replace("\u2029", "\\u2029")


def _static(name: str) -> str:
    return files("mltassist.page").joinpath("static", name).read_text(encoding="utf-8")


def _script() -> str:
    return "\n(() => {\n" + "\n".join(_static(f"{name}.js") for name in SCRIPTS) + "\n})();\n"

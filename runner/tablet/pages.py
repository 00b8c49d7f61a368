"""The files of the page, as the package brings them."""

from __future__ import annotations

import hashlib
import html
from dataclasses import dataclass
from importlib.resources import files

from runner.figures.card import WARNING

_FILES = {
    "/": ("index.html", "text/html; charset=utf-8"),
    "/tablet.css": ("tablet.css", "text/css; charset=utf-8"),
    "/tablet.js": ("tablet.js", "text/javascript; charset=utf-8"),
    "/icon.svg": ("icon.svg", "image/svg+xml"),
}


@dataclass(frozen=True, slots=True)
class Pages:
    """``texts`` by path, each with its kind. A page of another ``version`` loads itself anew."""

    version: str
    texts: dict[str, tuple[str, str]]


def read_pages() -> Pages:
    """The pages, with the warning and their version in them."""
    folder = files("runner.tablet").joinpath("page")
    texts = {
        path: (folder.joinpath(name).read_text(encoding="utf-8"), kind)
        for path, (name, kind) in _FILES.items()
    }
    version = hashlib.sha256(repr((texts, WARNING)).encode()).hexdigest()[:16]
    page, kind = texts["/"]
    page = page.replace("{warning}", html.escape(WARNING)).replace("{version}", version)
    return Pages(version, {**texts, "/": (page, kind)})

"""The scripts and styles of the pages, served from the folders that they lie in.

``dashboard/plan/zoom.js`` is at ``/files/plan/zoom.js``, and what several pages share in ``dashboard/web`` at
``/files/web/...``, so that an ``import`` reads the same to a browser and to node. Scripts are ES modules;
what a module imports is found here, so that a page can have it all fetched at once and a phone keep it.
"""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Iterable
from functools import cache
from pathlib import Path, PurePosixPath

from flask import Blueprint, Flask, Response, abort, request
from jinja2 import Environment, FunctionLoader

from dashboard.web.address import here

HERE = Path(__file__).parent.parent
FILES = "/files"
KINDS = {".js": "text/javascript", ".css": "text/css"}
STYLE = "web/spread.css"
"""The palette and the plain elements of every page."""
PALETTE_ENDS = "* { box-sizing"
"""The palette stands first in the shared style; this rule is the first after it."""

_IMPORT = re.compile(r'^(?:import|export)\b[^;"]*"(\.[^"]+)";', re.MULTILINE)


def add_files(server: Flask) -> None:
    """Put the address of scripts and styles on a server."""
    server.register_blueprint(_blueprint())


def _blueprint() -> Blueprint:
    files = Blueprint("files", __name__)

    @files.get(f"{FILES}/<folder>/<name>")
    def file(folder: str, name: str) -> Response:
        wanted = f"{folder}/{name}"
        if wanted not in _all():
            abort(404)
        return sent(text_of(wanted), KINDS[PurePosixPath(name).suffix])

    return files


@cache
def _all() -> frozenset[str]:
    """Return every file that may be asked for: nothing else of a page's folder leaves the server."""
    return frozenset(
        path.relative_to(HERE).as_posix()
        for path in HERE.glob("*/*")
        if path.suffix in KINDS and path.is_file()
    )


@cache
def text_of(name: str) -> str:
    """Return a file of a page's folder, such as ``round/round.html``."""
    return (HERE / name).read_text(encoding="utf-8")


_TEMPLATES = Environment(autoescape=True, loader=FunctionLoader(text_of))


def filled(name: str, **values: object) -> str:
    """Return a template of a page's folder with values in it, escaped where they are not marked as safe."""
    return _TEMPLATES.get_template(name).render(root=here(""), **values)


def data_tag(identity: str, data: object) -> str:
    """Return data for a page's scripts as an element of the page; nothing in it can end the element."""
    text = json.dumps(data, ensure_ascii=False).replace("<", "\\u003c")
    return f'<script type="application/json" id="{identity}">{text}</script>'


@cache
def modules_of(entry: str) -> tuple[str, ...]:
    """Return a module, such as ``plan/page.js``, and all that it imports, itself first."""
    found = [entry]
    for name in found:  # it grows while it is walked
        folder = PurePosixPath(name).parent
        for told in _IMPORT.findall(text_of(name)):
            other = _plain(folder / told)
            if other not in found:
                found.append(other)
    return tuple(found)


def _plain(path: PurePosixPath) -> str:
    parts: list[str] = []
    for part in path.parts:
        if part == "..":
            parts.pop()
        elif part != ".":
            parts.append(part)
    return "/".join(parts)


def script_tags(*entries: str) -> str:
    """Return the tags that load modules: what they import is asked for at once and not one after another."""
    wanted = dict.fromkeys(name for entry in entries for name in modules_of(entry))
    ahead = [f'<link rel="modulepreload" href="{FILES}/{name}">' for name in wanted if name not in entries]
    return "\n".join(
        [*ahead, *(f'<script type="module" src="{FILES}/{entry}"></script>' for entry in entries)]
    )


def style_tags(*names: str) -> str:
    """Return the tags of the shared style and a page's own."""
    return "\n".join(f'<link rel="stylesheet" href="{FILES}/{name}">' for name in (STYLE, *names))


@cache
def palette() -> str:
    """Return the colours alone, for pages that are small."""
    return text_of(STYLE).split(PALETTE_ENDS)[0]


def fingerprint(texts: Iterable[str]) -> str:
    """Return a short mark that changes when any of some texts does."""
    return hashlib.sha256("".join(texts).encode()).hexdigest()[:12]


def sent(body: str | bytes, kind: str) -> Response:
    """Return a page or file that browsers ask for again by its fingerprint."""
    response = Response(body, mimetype=kind)
    response.headers["Cache-Control"] = "no-cache"
    response.add_etag()
    response.make_conditional(request)
    return response

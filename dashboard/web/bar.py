"""The bar with the links to all pages, as HTML, so that it is there before any script has run."""

from __future__ import annotations

from html import escape
from typing import Any

from flask import current_app, has_app_context, has_request_context, request

from dashboard.pages import pages
from dashboard.signin.who import gated, may_open
from dashboard.web.address import here
from dashboard.web.files import script_tags
from dashboard.web.voice import desk_voice
from spread.words.voice import ENGLISH, Voice

ONLY = "SPREAD_ONLY"
"""Setting of a Flask server that has some of the pages only: their addresses."""

ABOVE = "SPREAD_ABOVE"
"""Setting of a Flask server that stands among several buildings where nobody signs in."""

LABEL, SIGN_OUT, BUILDINGS = "Pages", "Sign out", "Buildings"
"""What the bar says besides the names of the pages."""

TEAM = (("/people", "People"), ("/audit", "Who did what"))
"""Pages of the administrator, which a server of people has besides those of a building."""


def bar_html(path: str, voice: Voice = ENGLISH) -> str:
    """Return the bar for the page at ``path``, which is marked as the current one.

    A page below another one's address (``/room/203`` below ``/room``) marks that one. Where people sign in,
    the last link is the way out; it names nobody, for the phone keeps its pages also for the next person.
    """
    only = current_app.config.get(ONLY) if has_app_context() else None
    of_the_desk = any(page.path == path and page.desk and not page.in_bar for page in pages())
    first = next((page.path for page in pages() if page.desk), "")

    def name(word: str) -> str:
        return escape(voice.term("bar", word))

    def link(to: str, word: str, address: str) -> str:
        current = ' aria-current="true"' if of_the_desk and to == first else _current(to, path)
        return f'<li><a href="{escape(address)}"{current}>{name(word)}</a></li>'

    links = [
        link(page.path, page.name, here(page.path))
        for page in pages()
        if page.in_bar and (only is None or page.path in only) and may_open(page.path)
    ]
    asks = gated()
    if asks.office if asks else has_app_context() and current_app.config.get(ABOVE):
        at_front = has_request_context() and not request.script_root
        links.insert(
            0, link("/", BUILDINGS, "/") if at_front else f'<li><a href="/">{name(BUILDINGS)}</a></li>'
        )
    if asks:
        links += [link(to, word, to) for to, word in TEAM if may_open(to)]
        links.append(f'<li><a href="/sign-out">{name(SIGN_OUT)}</a></li>')
    return f'<nav class="pages-bar" aria-label="{name(LABEL)}"><ul>{"".join(links)}</ul></nav>'


def desk_frame(path: str, script: str) -> dict[str, Any]:
    """Return what ``web/desk.html`` shows around the desk page at an address: bar, its sisters, script."""
    links = "".join(
        f'<li><a href="{escape(here(page.path))}"{_current(page.path, path)}>{escape(page.name)}</a></li>'
        for page in pages()
        if page.desk and may_open(page.path)
    )
    return {
        "bar": bar_html(path),
        "desk": f'<nav class="desk-bar" aria-label="Desk"><ul>{links}</ul></nav>',
        "measure": desk_voice().measure,
        "scripts": script_tags(script),
    }


def _current(page: str, path: str) -> str:
    here = (path.rstrip("/") or "/") == page
    below = page != "/" and path.startswith(f"{page}/")
    return ' aria-current="page"' if here or below else ""

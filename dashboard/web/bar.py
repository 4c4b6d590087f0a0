"""The bar with the links to all pages, as HTML, so that it is there before any script has run."""

from __future__ import annotations

from html import escape

from flask import current_app, has_app_context

from dashboard.pages import pages
from dashboard.signin.who import is_gated
from spread.words.voice import ENGLISH, Voice

ONLY = "SPREAD_ONLY"
"""Setting of a Flask server that has some of the pages only: their addresses."""

LABEL, SIGN_OUT = "Pages", "Sign out"
"""What the bar says besides the names of the pages."""


def bar_html(path: str, voice: Voice = ENGLISH) -> str:
    """Return the bar for the page at ``path``, which is marked as the current one.

    A page below another one's address (``/room/203`` below ``/room``) marks that one. Where people sign in,
    the last link is the way out; it names nobody, for the phone keeps its pages also for the next person.
    """
    only = current_app.config.get(ONLY) if has_app_context() else None

    def name(word: str) -> str:
        return escape(voice.term("bar", word))

    links = [
        f'<li><a href="{escape(page.path)}"{_current(page.path, path)}>{name(page.name)}</a></li>'
        for page in pages()
        if page.in_bar and (only is None or page.path in only)
    ]
    if is_gated():
        links.append(f'<li><a href="/sign-out">{name(SIGN_OUT)}</a></li>')
    return f'<nav class="pages-bar" aria-label="{name(LABEL)}"><ul>{"".join(links)}</ul></nav>'


def _current(page: str, path: str) -> str:
    here = (path.rstrip("/") or "/") == page
    below = page != "/" and path.startswith(f"{page}/")
    return ' aria-current="page"' if here or below else ""

"""The bar with the links to all pages, as HTML, so that it is there before any script has run."""

from __future__ import annotations

from html import escape

from dashboard.pages import pages


def bar_html(path: str) -> str:
    """Return the bar for the page at ``path``, which is marked as the current one.

    A page below another one's address (``/room/203`` below ``/room``) marks that one.
    """
    links = [
        f'<li><a href="{escape(page.path)}"{_current(page.path, path)}>{escape(page.name)}</a></li>'
        for page in pages()
        if page.in_bar
    ]
    return f'<nav class="pages-bar" aria-label="Pages"><ul>{"".join(links)}</ul></nav>'


def _current(page: str, path: str) -> str:
    here = (path.rstrip("/") or "/") == page
    below = page != "/" and path.startswith(f"{page}/")
    return ' aria-current="page"' if here or below else ""

"""The pages of the dashboard: each a module of its own, found at its own address.

How to add one:

1. Make the module that stands for it in :data:`MODULES` below, with one name ``PAGE`` in it::

       from dash import Dash, Input, Output, html
       from dashboard.pages import Page

       def layout(session):                        # pure: a session gives components; html.Main is the root
           return html.Main([html.H1("This week"), html.Div(id="week-list")], id="page")

       def register(app, session):                 # on ``app``, never dash.callback
           @app.callback(Output("week-list", "children"), Input("week-ask", "data"))
           def fill(_asked): ...

       PAGE = Page("/week", "Week", "What is due this week", layout=layout, register=register,
                   scripts=("week/page.js",), styles=("week/week.css",))    # on this page only

2. A page that is plain Flask gives ``routes`` instead of ``layout``: a function ``(server: Flask, session)``
   that adds a blueprint. Its templates put ``bar_html("/round")`` (:mod:`dashboard.web.bar`) at the top of
   the body, and at its end ``script_tags("week/page.js")`` (:mod:`dashboard.web.files`). A page may have both
   (``routes`` for downloads and uploads).
3. A page is a folder of ``dashboard`` with its Python, templates, scripts and styles. A script is an ES
   module, served from where it lies (``dashboard/week/page.js`` at ``/files/week/page.js``) and loaded with
   all that it imports; nothing of one page reaches another but by ``import``. What pages share is in
   ``dashboard/web``: ``elements.js`` (making elements), ``dash.js`` (``pages``, ``tell``), ``local.js`` (days
   and lengths in the person's voice), ``storage.js``, ``switch.js`` (the switches of the voice) and
   ``sign_again.js``. A Dash page's script imports the last two, and gives functions to callbacks so::

       import { pages } from "../web/dash.js";
       pages.weekDrawn = (data) => { ... };       // ClientsideFunction("spread", "weekDrawn")

   Component ids are shared by all pages: begin yours with the page's name (``week-...``).
4. A Dash page for all addresses below its own (``/room/203``) sets ``below=True`` and asks
   :func:`dashboard.web.address.asked_path` in its layout.
5. What the server says to somebody it says in a voice: :func:`dashboard.web.voice.asked_voice` on the phone
   pages, ``desk_voice`` on the others (in English); callbacks take ``Input("voice", "data")``, which the
   switch of measures sets, where words hold lengths.
6. Where people sign in, its addresses are shut to all until lines of ``dashboard/signin/rights.py`` name the
   right that each asks for. Its name in the bar is said in other languages: ``python -m tests.catalogues``.
7. ``web/page.html`` is the frame of all templates. A page of the manager's desk sets ``desk=True``, extends
   ``web/desk.html`` and is filled with what :func:`dashboard.web.bar.desk_frame` gives; with
   ``in_bar=False`` the other desk pages alone link to it.
8. ``largest_body`` lifts the limit of 64 kB for requests below ``path`` (Flask routes; Dash calls keep it).

The bar at the top of every page shows the pages whose module is there and that have ``in_bar``.
"""

from __future__ import annotations

import importlib
import importlib.util
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache

from dash import Dash
from dash.development.base_component import Component
from flask import Flask

from spread.session import Session

MODULES = (
    "dashboard.plan.page",
    "dashboard.round.page",
    "dashboard.round.photographs",
    "dashboard.week.page",
    "dashboard.desk.cases",
    "dashboard.desk.revisits",
    "dashboard.desk.duties",
    "dashboard.desk.records",
    "dashboard.month.page",
    "dashboard.past.page",
    "dashboard.grades.page",
    "dashboard.programmes.page",
    "dashboard.take_in.page",
    "dashboard.change.page",
    "dashboard.setup.page",
    "dashboard.trace.page",
)
"""Where pages may be, in the order of the bar. One that is not there is left out."""


@dataclass(frozen=True, slots=True)
class Page:
    """One page of the dashboard.

    Parameters
    ----------
    path
        Its address, such as ``/week``.
    name
        What the bar calls it; one or two words.
    title
        What the browser's tab says, after the building's name.
    layout
        Makes the page from the session, anew for every load; None for a page that is plain Flask.
    register
        Puts the page's callbacks on the app, once.
    routes
        Puts the page's Flask routes on the server, once.
    scripts, styles
        What a Dash page loads of its own, as ``folder/file`` below ``dashboard``: modules to begin with (what
        they import comes along) and styles beside the shared one.
    inside
        HTML that a Dash page has at the end of its body, such as templates for its script.
    in_bar
        Whether the bar links to it.
    desk
        Whether it is a page of the manager's desk: these link to one another below the bar, which marks the
        first of them while another is open.
    below
        Whether the layout also serves every address below ``path``.
    largest_body
        Bytes that a request to a route below ``path`` may have; 0 for the usual limit.
    """

    path: str
    name: str
    title: str
    layout: Callable[[Session], Component] | None = None
    register: Callable[[Dash, Session], None] | None = None
    routes: Callable[[Flask, Session], None] | None = None
    scripts: tuple[str, ...] = ()
    styles: tuple[str, ...] = ()
    inside: Callable[[Session], str] | None = None
    in_bar: bool = True
    desk: bool = False
    below: bool = False
    largest_body: int = 0


@cache
def pages() -> tuple[Page, ...]:
    """Return the pages whose modules are there, in the order of the bar."""
    found = []
    for name in MODULES:
        if importlib.util.find_spec(name) is None:
            continue
        page = getattr(importlib.import_module(name), "PAGE", None)
        if isinstance(page, Page):
            found.append(page)
    return tuple(found)


def page_at(path: str) -> Page | None:
    """Return the Dash page at an address, with or without a slash at its end; None if there is none."""
    wanted = path.rstrip("/") or "/"
    for page in pages():
        if page.layout is None:
            continue
        if page.path == wanted or (page.below and wanted.startswith(f"{page.path}/")):
            return page
    return None

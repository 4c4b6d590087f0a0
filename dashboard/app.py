"""The Dash app over one open building: one app, several pages."""

from __future__ import annotations

from html import escape

from dash import ClientsideFunction, Dash, Input, Output, State, dcc, html, no_update
from dash.development.base_component import Component
from flask import Response, abort, g, jsonify, request

from dashboard.guard.addresses import add_guard
from dashboard.pages import page_at, pages
from dashboard.reach import LOCAL, Reach
from dashboard.round.addresses import building_key
from dashboard.security import guard
from dashboard.signin.addresses import add_sign_in
from dashboard.signin.gate import shut
from dashboard.signin.rights import right_for
from dashboard.signin.team import add_team
from dashboard.signin.who import Gated, NotAllowedError, may_open, not_allowed
from dashboard.web.address import asked_path
from dashboard.web.bar import bar_html
from dashboard.web.calls import check_calls
from dashboard.web.files import add_files, script_tags, style_tags, text_of
from dashboard.web.voice import desk_voice
from spread.people.folder import FolderPeople, read_roll
from spread.session import Session

PAGE = """<!DOCTYPE html>
<html lang="en" data-root="<!--root-->" data-version="<!--version-->" data-measure="<!--measure-->">
<head>
{%metas%}
<title>{%title%}</title>
{%favicon%}
{%css%}
</head>
<body>
<!--bar-->
{%app_entry%}
<!--inside-->
<footer class="foot"><p>Decision support, not a guarantee: local codes, product labels and licensed practice
come first. For staff.</p><!--measures--></footer>
{%config%}
{%scripts%}
{%renderer%}
</body>
</html>
"""
NOWHERE = """<!DOCTYPE html>
<html lang="en"><head><meta charset="utf-8"><title>No such page</title>
<meta name="viewport" content="width=device-width, initial-scale=1">
<link rel="stylesheet" href="/files/web/spread.css"></head>
<body>{bar}<main id="page"><h1>No such page</h1><p>There is nothing at {path}. Choose a page above.</p></main>
</body></html>
"""

SKIP = '<a class="skip" href="#plan">To the floor plan</a>'
"""Before the bar of the plan's page: the next stop of the Tab key is a unit."""
OFFICE = "office"
"""Names the cookie of an office, one for all of its buildings."""
ALONE = ("web/dash.js", "web/guard.js", "web/sign_again.js", "web/switch.js")
"""Modules of a Dash page that has none of its own."""


def create_app(session: Session, reach: Reach = LOCAL, asks: Gated | None = None, root: str = "") -> Dash:
    """Return the app that shows ``session``; several apps may live in one process.

    Parameters
    ----------
    session
        An open building. If its folder has a people file, nothing but ``/health`` and the sign-in page
        answers to somebody who is not signed in.
    reach
        Which hosts and origins are ours.
    asks
        Whose people sign in, in an office; otherwise those of the building's folder, if it has any.
    root
        The address below which an office serves the building.

    Returns
    -------
    dash.Dash
        With every page of :func:`dashboard.pages.pages`, its server guarded (hosts, origins, headers,
        body size) and ``/health`` answering ``OK``.

    Raises
    ------
    SettingsError
        If there is a people file and it is spoilt or open to others.
    """
    app = _App(
        "dashboard",
        title=session.plan.name,
        update_title="",
        compress=True,
        include_assets_files=False,
        serve_locally=True,
        routes_pathname_prefix="/",
        requests_pathname_prefix=f"{root}/",
        health_endpoint="health",
        index_string=PAGE,
        suppress_callback_exceptions=True,
        meta_tags=[
            {"name": "viewport", "content": "width=device-width, initial-scale=1"},
            {"name": "color-scheme", "content": "light dark"},
        ],
    )
    app.session = session
    app.layout = lambda: _whole(session)
    _address(app, session)
    add_files(app.server)
    add_guard(app.server, session)
    for page in pages():
        if page.register is not None:
            before = set(app.callback_map)
            page.register(app, session)
            app.page_of |= dict.fromkeys(set(app.callback_map) - before, page.path)
        if page.routes is not None:
            page.routes(app.server, session)
    larger = {page.path: page.largest_body for page in pages() if page.largest_body}
    guard(app.server, larger, scripts=app.csp_hashes(), reach=reach)
    if asks is not None:
        shut(app.server, asks, reach, OFFICE)
    elif read_roll(session.building.folder):
        asks = Gated(FolderPeople(session.building.folder))
        shut(app.server, asks, reach, building_key(session))
        add_sign_in(app.server, asks.people)
        add_team(app.server, asks.people, dict)
    _ask_for_rights(app)
    check_calls(app)
    _refuse_unknown_pages(app)
    return app


def _ask_for_rights(app: _App) -> None:
    """Let a callback answer only to those who may open its page: all of them come in at one address."""

    @app.server.before_request
    def ask() -> tuple[Response, int] | None:
        if request.path != "/_dash-update-component" or request.method != "POST":
            return None
        told = request.get_json(silent=True)
        output = told.get("output") if isinstance(told, dict) else None
        page = app.page_of.get(output, "") if isinstance(output, str) else ""
        if not page or may_open(page):
            return None
        words = not_allowed(right_for("GET", page) or "")
        return jsonify(ok=False, words=words, problems=[words]), 403

    @app.server.errorhandler(NotAllowedError)
    def refuse(error: NotAllowedError) -> tuple[Response, int]:
        return jsonify(ok=False, words=str(error), problems=[str(error)]), 403


class _App(Dash):
    """Dash with a bar on every page, a title a page, and each page's own scripts and styles only.

    Our scripts are modules, which run after the page is parsed; so that they run before Dash starts and looks
    for our functions, its one line in the page is made a module too. Modules run in the order of their tags.
    """

    session: Session

    def __init__(self, *given: object, **named: object) -> None:
        super().__init__(*given, **named)
        self.page_of: dict[str, str] = {}

    def interpolate_index(self, **parts: str) -> str:
        page = page_at(request.path)
        parts["renderer"] = parts["renderer"].replace('type="application/javascript"', 'type="module"', 1)
        parts["css"] += style_tags(*(page.styles if page else ()))
        if page is not None:
            parts["title"] = escape(f"{parts['title']} · {page.title}")
            parts["scripts"] += f"\n{script_tags(*(page.scripts or ALONE))}"
        whole: str = super().interpolate_index(**parts)
        whole = whole.replace("<!--version-->", str(self.session.version), 1)
        whole = whole.replace("<!--root-->", escape(request.script_root), 1)
        whole = whole.replace("<!--measure-->", desk_voice().measure, 1)
        whole = whole.replace("<!--measures-->", text_of("web/measures.html"), 1)
        if page is not None and page.inside is not None:
            whole = whole.replace("<!--inside-->", page.inside(self.session), 1)
        skip = SKIP if page is not None and page.path == "/" else ""
        return whole.replace("<!--bar-->", skip + bar_html(request.path), 1)


def _whole(session: Session) -> html.Div:
    path = asked_path()
    return html.Div(
        [
            dcc.Location(id="address", refresh=False),
            dcc.Store(id="laid-out", data=path),
            dcc.Store(id="asked-path"),
            dcc.Store(id="voice"),
            html.Div(_laid_out(session, path), id="page-box"),
        ]
    )


def _laid_out(session: Session, path: str) -> Component:
    page = page_at(path) if path else None
    if page is None or page.layout is None:
        return html.Main(id="page")  # only until the script has told the address
    if not may_open(page.path):
        return html.Main(html.P(not_allowed(right_for("GET", page.path) or "")), id="page")
    return page.layout(session)


def _address(app: Dash, session: Session) -> None:
    """Lay the right page out also for a browser that did not say where it stands."""
    app.clientside_callback(
        ClientsideFunction("spread", "address"),
        Output("asked-path", "data"),
        Input("address", "pathname"),
        State("laid-out", "data"),
    )

    @app.callback(Output("page-box", "children"), Input("asked-path", "data"), prevent_initial_call=True)
    def lay_out(path: object) -> object:
        if not isinstance(path, str) or page_at(path) is None:
            return no_update
        g.asked_path = path
        return _laid_out(session, path)


def _refuse_unknown_pages(app: Dash) -> None:
    """Answer 404 where there is no page: Dash itself would show its first page at any address."""

    @app.server.before_request
    def refuse_unknown() -> Response | None:
        rule = request.url_rule
        if rule is None or rule.rule not in ("/", "/<path:path>") or page_at(request.path) is not None:
            return None
        if request.method != "GET":
            abort(404)
        text = NOWHERE.format(bar=bar_html(request.path), path=escape(request.path[:80]))
        return Response(text, status=404, mimetype="text/html")

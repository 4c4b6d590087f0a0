"""The Dash app over one open building."""

from __future__ import annotations

from dash import Dash

from dashboard.callbacks import register
from dashboard.geometry import plan_geometry
from dashboard.layout import build_layout
from dashboard.security import guard
from spread.session import Session

PAGE = """<!DOCTYPE html>
<html lang="en">
<head>
{%metas%}
<title>{%title%}</title>
{%favicon%}
{%css%}
</head>
<body>
{%app_entry%}
<footer class="foot">Decision support, not a guarantee: local codes, product labels and licensed practice
come first. For staff.</footer>
{%config%}
{%scripts%}
{%renderer%}
</body>
</html>
"""


def create_app(session: Session) -> Dash:
    """Return the app that shows ``session``; several apps may live in one process.

    Parameters
    ----------
    session
        An open building. The plan's geometry is worked out here, once.

    Returns
    -------
    dash.Dash
        With its server guarded (hosts, origins, headers, body size) and ``/health`` answering ``OK``.
    """
    app = Dash(
        "dashboard",
        title=f"{session.plan.name} · next doors",
        update_title="",
        compress=True,
        serve_locally=True,
        health_endpoint="health",
        index_string=PAGE,
        meta_tags=[
            {"name": "viewport", "content": "width=device-width, initial-scale=1"},
            {"name": "color-scheme", "content": "light dark"},
        ],
    )
    geometry = plan_geometry(session.plan)
    app.layout = lambda: build_layout(session, geometry)
    register(app, session)
    guard(app)
    return app

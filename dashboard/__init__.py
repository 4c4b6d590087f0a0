"""The floor plan in the browser: a Dash app over one :class:`spread.session.Session`."""

from __future__ import annotations

from dashboard.app import create_app
from dashboard.server import serve

__all__ = ["create_app", "serve"]

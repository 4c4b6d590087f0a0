"""The floor plan in the browser: a Dash app over one :class:`spread.session.Session`."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from dashboard.app import create_app
    from dashboard.server import serve

__all__ = ["create_app", "serve"]


def __getattr__(name: str) -> object:
    """Load Dash when it is first asked for: the command line passes here on its way to ``command``."""
    if name == "create_app":
        from dashboard.app import create_app  # noqa: PLC0415

        return create_app
    if name == "serve":
        from dashboard.server import serve  # noqa: PLC0415

        return serve
    raise AttributeError(f"module 'dashboard' has no attribute {name!r}")

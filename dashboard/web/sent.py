"""What a browser has sent as JSON; nothing of it is trusted."""

from __future__ import annotations

from flask import request


def sent_json() -> object:
    """Return the JSON of a request; None for what is none, or is nested so deep that nobody meant it."""
    try:
        return request.get_json(silent=True)
    except RecursionError:
        return None

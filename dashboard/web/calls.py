"""Calls of Dash that no page of ours would send: they are answered before Dash trips over them."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from dash import Dash
from dash.exceptions import DependencyException
from flask import abort, request

CALL = "/_dash-update-component"


def check_calls(app: Dash) -> None:
    """Answer 400 with a sentence to a call that names no callback, or other parts than the callback has."""

    @app.server.before_request
    def check() -> None:
        if request.path == CALL and request.method == "POST" and not is_call(request.get_json(), app):
            abort(400, "The page's message does not fit this server; load the page again.")

    @app.server.errorhandler(DependencyException)
    def unknown_file(_error: DependencyException) -> tuple[str, int]:
        return "There is no such file.", 404


def is_call(body: object, app: Dash) -> bool:
    """Say whether a body names a callback of an app, and its parts as the callback has them."""
    if not isinstance(body, Mapping):
        return False
    output, outputs, changed = body.get("output"), body.get("outputs"), body.get("changedPropIds", [])
    callback = app.callback_map.get(output) if isinstance(output, str) else None
    if callback is None or "callback" not in callback or not isinstance(output, str):
        return False  # one that runs in the browser is never asked for
    written = [name.partition("@")[0] for name in output.strip(".").split("...")]
    told = outputs if isinstance(outputs, list) else [outputs]
    return (
        all(_fits(body.get(key, []), callback[key]) for key in ("inputs", "state"))
        and [_named(one) for one in told] == written
        and isinstance(changed, list)
        and all(isinstance(one, str) for one in changed)
    )


def _fits(told: object, parts: list[dict[str, Any]]) -> bool:
    wanted = [f"{part['id']}.{part['property']}" for part in parts]
    return isinstance(told, list) and [_named(one) for one in told] == wanted


def _named(part: object) -> str:
    if not isinstance(part, Mapping):
        return ""
    name, of = part.get("property"), part.get("id")
    return f"{of}.{name}".partition("@")[0] if isinstance(name, str) and isinstance(of, str) else ""

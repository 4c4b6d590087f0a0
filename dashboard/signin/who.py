"""Who is asking: the one place that the pages and the log take a person's code from."""

from __future__ import annotations

from collections.abc import Mapping

from flask import current_app, g, has_app_context

from spread.records.log import Log

GATED = "SPREAD_GATED"
"""Setting of a Flask server that asks people to sign in."""


def is_gated() -> bool:
    """Say whether the server that answers now asks people to sign in."""
    return has_app_context() and bool(current_app.config.get(GATED))


def who() -> str:
    """Return the work code of whoever is signed in; empty where nobody needs to be."""
    return str(g.get("who", "")) if has_app_context() else ""


def signed(fields: Mapping[str, str], log: Log) -> dict[str, str]:
    """Return the fields of a record with ``by`` as the server knows it, whatever the browser said.

    An answer that is sent a second time, perhaps after somebody else signed in on the same phone, stays the
    answer of whoever gave it: the row that is kept under its id says by whom.
    """
    kept = log.by_id.get(fields.get("id", ""))
    return {**fields, "by": kept.by if kept else who()}

"""Which page the browser asks a layout for.

Dash asks for every layout at one address of its own. The browser names the page it stands on in the
Referer header, which our own Referrer-Policy lets through; a browser that withholds it gets an empty
page, whose script then asks again with the address (see ``dashboard.app``).
"""

from __future__ import annotations

from urllib.parse import urlsplit

from flask import g, has_request_context, request


def asked_path() -> str:
    """Return the address, such as ``/week``, of the page that is being laid out; empty if unknown."""
    if not has_request_context():
        return ""
    told = g.get("asked_path")
    if isinstance(told, str):
        return told
    try:
        came = urlsplit(request.referrer or "")
    except ValueError:  # such as http://[
        return ""
    inside = came.path.startswith(f"{request.script_root}/") and came.netloc == request.host
    return came.path.removeprefix(request.script_root) if inside else ""


def here(path: str) -> str:
    """Return the address of a page of this building for a link: in an office, below the building's own."""
    return (request.script_root if has_request_context() else "") + path

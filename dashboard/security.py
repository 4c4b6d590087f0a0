"""What the server refuses: foreign hosts, foreign pages, large bodies; and the headers it sends."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from flask import Flask, Response, abort, request

from dashboard.reach import LOCAL, Reach

LARGEST_BODY = 64 * 1024
"""Bytes. The largest honest body is an answer with a note of 500 characters."""
LARGEST_UPLOAD = 8 * 1024 * 1024
"""Bytes. What a page that takes files may ask for at most."""
READING = ("GET", "HEAD", "OPTIONS")


def guard(
    server: Flask,
    larger: Mapping[str, int] | None = None,
    *,
    scripts: Sequence[str] = (),
    reach: Reach = LOCAL,
) -> None:
    """Put the checks and headers on a Flask server.

    Parameters
    ----------
    server
        With all its addresses.
    larger
        Bytes that a request may have below some addresses (uploads); never over :data:`LARGEST_UPLOAD`.
    scripts
        Fingerprints of the scripts that stand in a page itself (``Dash.csp_hashes``).
    reach
        Which hosts and origins are ours.
    A page elsewhere must not be able to write through the user's browser: Dash itself checks neither
    Host nor Origin, so a name rebound to this machine would be served.
    """
    server.config["MAX_CONTENT_LENGTH"] = LARGEST_BODY
    policy = _policy(scripts)
    allowed = {f"{path.rstrip('/')}/": min(size, LARGEST_UPLOAD) for path, size in (larger or {}).items()}

    @server.before_request
    def refuse_foreign() -> None:
        if not reach.trusts(request.host):
            abort(400)
        if request.method in READING:
            return
        for path, size in allowed.items():
            if request.path.startswith(path):
                request.max_content_length = size
        if request.headers.get("Sec-Fetch-Site", "same-origin") not in ("same-origin", "none"):
            abort(403)
        origin = request.headers.get("Origin")
        if origin is not None and not reach.came_from_here(origin, request.host):
            abort(403)

    @server.after_request
    def add_headers(response: Response) -> Response:
        response.headers.setdefault("X-Content-Type-Options", "nosniff")
        response.headers.setdefault("Referrer-Policy", "same-origin")
        response.headers.setdefault("X-Frame-Options", "DENY")
        response.headers.setdefault("Cross-Origin-Opener-Policy", "same-origin")
        response.headers.setdefault("Cross-Origin-Resource-Policy", "same-origin")
        response.headers.setdefault("Permissions-Policy", "camera=(), microphone=(), geolocation=()")
        response.headers.setdefault("Content-Security-Policy", policy)
        return response


def _policy(fingerprints: Sequence[str]) -> str:
    scripts = "".join(f" '{fingerprint.strip(chr(39))}'" for fingerprint in fingerprints)
    return "; ".join(
        (
            "default-src 'self'",
            f"script-src 'self'{scripts}",
            "style-src 'self' 'unsafe-inline'",  # Dash's own components put their styles in the page
            "img-src 'self' data: blob:",  # blob: a figure saved as a picture
            "object-src 'none'",
            "base-uri 'none'",
            "form-action 'self'",
            "frame-ancestors 'none'",
        )
    )

"""The gate before every page of a server that people sign in to: who they are, and what they may."""

from __future__ import annotations

from urllib.parse import quote

from flask import Flask, Response, g, jsonify, redirect, request
from flask_login import LoginManager, UserMixin, current_user
from werkzeug.wrappers import Response as AnyResponse

from dashboard.reach import Reach
from dashboard.signin.rights import ADDRESSES, ANYBODY, right_for
from dashboard.signin.who import GATED, Gated, may, not_allowed, note
from dashboard.web.bar import bar_html
from dashboard.web.files import filled
from spread.people.kept import LASTS
from spread.people.roles import FIGURES, PEOPLE, Person

SIGN_IN, SIGN_OUT, PHRASE = "/sign-in", "/sign-out", "/phrase"
FEED = "/calendar.ics"
"""The calendar feed, which a key opens: calendar programs cannot sign in."""
OPEN = ("/health", SIGN_IN, f"{SIGN_IN}/page.css", f"{SIGN_IN}/page.js", FEED)
"""Addresses that answer without a sign-in. Everything else is shut."""
AGAIN = "Sign in again: this sign-in has ended, or there was none."


class SignedIn(UserMixin):
    """A person with the sign-in that they came by; the cookie holds its token and nothing else."""

    def __init__(self, person: Person, token: str) -> None:
        self.person, self.token = person, token

    def get_id(self) -> str:
        """Return the token, by which the next request finds this sign-in again."""
        return self.token


def shut(server: Flask, asks: Gated, reach: Reach, name: str, addresses: Addresses = ADDRESSES) -> None:
    """Ask everybody who reaches a server to sign in, and let them do what their role allows.

    Parameters
    ----------
    server
        Its checks of hosts and origins are on it already: they come first.
    asks
        The people, and the building that the server shows.
    reach
        Whether people come by https.
    name
        Parts the cookies of two servers on one machine; letters and digits.
    addresses
        Which right each address asks for.
    """
    server.config.update(
        {
            GATED: asks,
            "SECRET_KEY": asks.people.key(),
            # A name that begins so is taken by browsers only over TLS and from this very host.
            "SESSION_COOKIE_NAME": f"{'__Host-' if reach.secure else ''}spread-{name}",
            "SESSION_COOKIE_HTTPONLY": True,
            "SESSION_COOKIE_SAMESITE": "Lax",
            "SESSION_COOKIE_SECURE": reach.secure,
            "SESSION_COOKIE_PATH": "/",
            "PERMANENT_SESSION_LIFETIME": LASTS,
            "SESSION_REFRESH_EACH_REQUEST": False,  # twelve hours from the sign-in, not from the last request
        }
    )
    manager = LoginManager(server)
    manager.session_protection = None  # a phone changes its address all day

    @manager.user_loader
    def load(token: str) -> SignedIn | None:
        person = asks.people.signed_in(token) if asks.people.key() else None
        return SignedIn(person, token) if person else None

    @server.before_request
    def ask() -> AnyResponse | tuple[Response, int] | None:
        if current_user.is_authenticated and works_here(current_user.person, asks.building):
            g.person = current_user.person
            return _allowed(request.method, request.path, addresses)
        if request.path in OPEN:
            return None
        if current_user.is_authenticated:
            return _forbidden("This building is not one that you work for.", "/")
        if request.method == "GET" and _is_visit():
            whole = request.script_root + request.full_path.rstrip("?")
            return redirect(f"{SIGN_IN}?next={quote(whole, safe='/')}")
        # For a script: no page stands where its answer should be. Each of ours reads one of these.
        return jsonify(ok=False, words=AGAIN, problems=[AGAIN], sign_in=SIGN_IN), 401

    @server.after_request
    def keep_nothing(response: Response) -> Response:
        response.headers.setdefault("Cache-Control", "no-store")
        return response


Addresses = tuple[tuple[str, str, str], ...]


def works_here(person: Person, building: str) -> bool:
    """Say whether somebody works for a building; empty for a folder and for the office itself."""
    return not building or building in person.buildings


def safe_next(text: str) -> str:
    """Return where to go after the sign-in: an address of this server, or its first page.

    A link to the sign-in page must not be able to send anybody elsewhere, so nothing but a plain path with
    its question is let through.
    """
    if not text.startswith("/") or text.startswith("//") or "\\" in text or not text.isprintable():
        return "/"
    return "/" if text.partition("?")[0] in (*OPEN, SIGN_OUT) else text


def _allowed(method: str, path: str, addresses: Addresses) -> AnyResponse | tuple[Response, int] | None:
    """Return what is answered instead where somebody lacks the right; None where they have it."""
    if path in OPEN:
        return None
    right = right_for(method, path, addresses)
    if right == ANYBODY or (right is not None and may(right)):
        return None
    if path == "/" and method == "GET":  # the first page of a building, for somebody who may not see its plan
        if may(FIGURES):
            return redirect(f"{request.script_root}/past")
        if may(PEOPLE):
            return redirect("/people")
    note("refused", f"{method} {path[:120]}")
    return _forbidden(not_allowed(right or ""), f"{request.script_root}/")


def _forbidden(words: str, home: str) -> tuple[Response, int]:
    if request.method == "GET" and _is_visit():
        page = filled("signin/forbidden.html", bar=bar_html(request.path), words=words, home=home)
        return Response(page, mimetype="text/html"), 403
    return jsonify(ok=False, words=words, problems=[words]), 403


def _is_visit() -> bool:
    """Say whether a person opens a page, and not a script a piece of data."""
    mode = request.headers.get("Sec-Fetch-Mode")
    if mode:
        return mode == "navigate"
    return "text/html" in request.headers.get("Accept", "")

"""The gate before every page of a building that people sign in to."""

from __future__ import annotations

import datetime as dt
import threading
from pathlib import Path
from urllib.parse import quote

from flask import Flask, Response, g, jsonify, redirect, request, session
from werkzeug.wrappers import Response as AnyResponse

from dashboard.reach import Reach
from dashboard.signin.people import PEOPLE_FILE, Person, Roll, read_roll
from dashboard.signin.who import GATED
from spread.errors import SettingsError

SIGN_IN, SIGN_OUT = "/sign-in", "/sign-out"
OPEN = ("/health", SIGN_IN, f"{SIGN_IN}/page.css", f"{SIGN_IN}/page.js")
"""Addresses that answer without a sign-in. Everything else is shut."""
LASTS = dt.timedelta(hours=12)
"""A working day with its way home; common practice, no source."""
AGAIN = "Sign in again: this sign-in has ended, or there was none."


class Rolls:
    """The people of a building as the file says now; read again when the file changes.

    A file that is gone or spoilt while the building is served lets nobody in.
    """

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._lock = threading.Lock()
        self._seen: tuple[int, int, int] | None = None
        self._roll: Roll | None = None

    def now(self) -> Roll | None:
        """Return who may sign in now; None if that cannot be told."""
        try:
            stat = (self._folder / PEOPLE_FILE).stat()
        except OSError:
            return None
        seen = (stat.st_mtime_ns, stat.st_ino, stat.st_size)
        with self._lock:
            if seen != self._seen:
                try:
                    self._roll = read_roll(self._folder)
                except SettingsError:
                    self._roll = None
                self._seen = seen
            return self._roll


def shut(server: Flask, rolls: Rolls, roll: Roll, reach: Reach, name: str) -> None:
    """Ask everybody who reaches a server to sign in.

    Parameters
    ----------
    server
        Its checks of hosts and origins are on it already: they come first.
    rolls, roll
        The people of the building, and as they are now.
    reach
        Whether people come by https.
    name
        Parts the cookies of two buildings that are served on one machine; letters and digits.
    """
    server.config.update(
        {
            GATED: True,
            "SECRET_KEY": roll.key,
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

    @server.before_request
    def ask() -> AnyResponse | tuple[Response, int] | None:
        person = _signed_in(rolls)
        g.who = person.code if person else ""
        if person or request.path in OPEN:
            return None
        if request.method == "GET" and _is_visit():
            return redirect(f"{SIGN_IN}?next={quote(request.full_path.rstrip('?'), safe='/')}")
        # For a script: no page stands where its answer should be. Each of ours reads one of these.
        return jsonify(ok=False, words=AGAIN, problems=[AGAIN], sign_in=SIGN_IN), 401

    @server.after_request
    def keep_nothing(response: Response) -> Response:
        response.headers.setdefault("Cache-Control", "no-store")
        return response


def sign_in(person: Person) -> None:
    """Remember in the signed cookie who this is."""
    session.clear()
    session.permanent = True
    session["who"], session["mark"] = person.code, person.mark


def safe_next(text: str) -> str:
    """Return where to go after the sign-in: an address of this server, or its first page.

    A link to the sign-in page must not be able to send anybody elsewhere, so nothing but a plain path with
    its question is let through.
    """
    if not text.startswith("/") or text.startswith("//") or "\\" in text or not text.isprintable():
        return "/"
    return "/" if text.partition("?")[0] in (*OPEN, SIGN_OUT) else text


def _signed_in(rolls: Rolls) -> Person | None:
    code, mark = session.get("who"), session.get("mark")
    if not isinstance(code, str) or (roll := rolls.now()) is None:
        return None
    person = roll.people.get(code)
    return person if person and person.mark == mark else None


def _is_visit() -> bool:
    """Say whether a person opens a page, and not a script a piece of data."""
    mode = request.headers.get("Sec-Fetch-Mode")
    if mode:
        return mode == "navigate"
    return "text/html" in request.headers.get("Accept", "")

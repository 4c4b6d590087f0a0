"""The pages to sign in and out: plain forms that work without a script."""

from __future__ import annotations

import math
import threading
from html import escape

from flask import Blueprint, Flask, Response, redirect, request, session
from werkzeug.wrappers import Response as AnyResponse

from dashboard.signin.gate import SIGN_IN, SIGN_OUT, Rolls, safe_next, sign_in
from dashboard.signin.patience import Patience
from dashboard.signin.people import code_of, known_by
from dashboard.signin.who import who
from dashboard.web.files import data_tag, filled, palette, text_of
from dashboard.web.voice import asked_voice
from spread.words.phone import sign_in_words

LONGEST_CODE = 40
TURN = 2.0
"""Seconds to wait for another's pass phrase to be checked: hashing is dear, and one at a time leaves the
server's other threads to those who are signed in."""


def add_sign_in(server: Flask, rolls: Rolls, patience: Patience | None = None) -> None:
    """Put the pages on a server that :func:`dashboard.signin.gate.shut` shuts."""
    pages = Blueprint("sign_in", __name__)
    waits, turn = patience or Patience(), threading.Lock()

    @pages.get(SIGN_IN)
    def page() -> AnyResponse:
        onward = safe_next(request.args.get("next", ""))
        if who():
            return redirect(onward)
        return _send(sign_in_page(onward))

    @pages.post(SIGN_IN)
    def enter() -> AnyResponse:
        onward = safe_next(request.form.get("next", ""))
        typed, phrase = request.form.get("who", ""), request.form.get("phrase", "")
        code, roll = code_of(typed[:LONGEST_CODE]), rolls.now()
        if roll is None:
            return _send(sign_in_page(onward, typed, "shut"), 503)
        if not code or not phrase:
            return _send(sign_in_page(onward, typed, "empty"), 401)
        if not turn.acquire(timeout=TURN):
            return _send(sign_in_page(onward, typed, "busy"), 503)
        try:
            if wait := waits.take(code):
                return _later(onward, typed, wait)
            person = known_by(roll, code, phrase)
        finally:
            turn.release()
        if person is None:
            return _send(sign_in_page(onward, typed, "wrong"), 401)
        waits.forget(code)
        sign_in(person)
        return redirect(onward, 303)

    @pages.get(SIGN_OUT)
    def ask() -> AnyResponse:
        told = escape(str(sign_in_words(asked_voice())["signed_in_as"]))
        return _send(_filled("sign_out", signed_in=told.format(who=f"<b>{escape(who())}</b>")))

    @pages.post(SIGN_OUT)
    def leave() -> AnyResponse:
        session.clear()
        return redirect(f"{SIGN_IN}?out=1", 303)

    @pages.get(f"{SIGN_IN}/page.css")
    def style() -> AnyResponse:
        return _send(palette() + text_of("signin/page.css"), kind="text/css")

    @pages.get(f"{SIGN_IN}/page.js")
    def script() -> AnyResponse:
        return _send(text_of("signin/page.js"), kind="text/javascript")

    server.register_blueprint(pages)


def sign_in_page(onward: str, typed: str = "", wrong: str = "") -> str:
    """Return the page: what was typed stays in it, except the pass phrase.

    Parameters
    ----------
    onward
        Where to go afterwards.
    typed
        The code as it was typed.
    wrong
        What was wrong: a key of :func:`spread.words.phone.sign_in_words`, or a sentence.
    """
    say = sign_in_words(asked_voice())
    return _filled(
        "sign_in",
        onward=onward,
        typed=typed[:LONGEST_CODE],
        wrong=say.get(wrong, wrong),
        title=say["title_wrong" if wrong else "title"],
    )


def _filled(page: str, **values: object) -> str:
    voice = asked_voice()
    say = sign_in_words(voice)
    return filled(f"signin/{page}.html", voice=voice, say=say, said=data_tag("said", say), **values)


def _later(onward: str, typed: str, wait: float) -> Response:
    seconds = math.ceil(wait)
    forms = sign_in_words(asked_voice())["too_many"]
    words = forms[0 if seconds == 1 else 1].format(number=seconds)
    response = _send(sign_in_page(onward, typed, words), 429)
    response.headers["Retry-After"] = str(seconds)
    return response


def _send(body: str, status: int = 200, kind: str = "text/html") -> Response:
    response = Response(body, status=status, mimetype=kind)
    response.headers["Cache-Control"] = "no-store" if kind == "text/html" else "no-cache"
    return response

"""The pages to sign in and out: plain forms that work without a script."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import replace
from html import escape

from flask import Blueprint, Flask, Response, redirect, request, session
from flask_login import current_user, login_user, logout_user
from werkzeug.wrappers import Response as AnyResponse

from dashboard.signin.gate import PHRASE, SIGN_IN, SIGN_OUT, SignedIn, safe_next
from dashboard.signin.tries import Tries
from dashboard.signin.who import gated, person, who
from dashboard.web.files import data_tag, filled, palette, text_of
from dashboard.web.voice import asked_voice
from spread.errors import SettingsError
from spread.people.kept import People
from spread.people.phrases import check_phrase, code_of, hashed, is_code, is_right
from spread.words.phone import sign_in_words

LONGEST_CODE = 40


def add_sign_in(server: Flask, people: People) -> None:
    """Put the pages on a server that :func:`dashboard.signin.gate.shut` shuts."""
    pages = Blueprint("sign_in", __name__)
    tries = Tries()

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
        code = code_of(typed[:LONGEST_CODE])
        if people.key() is None:
            return _send(sign_in_page(onward, typed, "shut"), 503)
        if not code or not phrase:
            return _send(sign_in_page(onward, typed, "empty"), 401)
        if wait := tries.take(code, request.remote_addr or ""):
            return _later(onward, typed, wait)
        with tries.turn() as mine:
            if not mine:
                return _send(sign_in_page(onward, typed, "busy"), 503)
            known = people.everyone().get(code)
            right = is_right(known, phrase)
        if known is None or not right:
            # What is no work code may be a pass phrase in the wrong field: the audit must not keep it.
            people.note("", "failed sign-in", detail=code if is_code(code) else "no work code")
            return _send(sign_in_page(onward, typed, "wrong"), 401)
        tries.forget(code)
        session.clear()
        session.permanent = True
        login_user(SignedIn(known, people.sign_in(code)))
        people.note(code, "sign-in")
        return redirect(onward, 303)

    @pages.get(SIGN_OUT)
    def ask() -> AnyResponse:
        told = escape(str(sign_in_words(asked_voice())["signed_in_as"]))
        return _send(_filled("sign_out", signed_in=told.format(who=f"<b>{escape(who())}</b>")))

    @pages.post(SIGN_OUT)
    def leave() -> AnyResponse:
        people.sign_out(current_user.token)
        people.note(who(), "sign-out")
        logout_user()
        session.clear()
        return redirect(f"{SIGN_IN}?out=1", 303)

    @pages.get(PHRASE)
    def phrase_page() -> AnyResponse:
        return _send(_filled("phrase", wrong=""))

    @pages.post(PHRASE)
    def new_phrase() -> AnyResponse:
        """Change one's own pass phrase: every sign-in of it ends, this one too."""
        found, say = person(), sign_in_words(asked_voice())
        old, new = request.form.get("old", ""), request.form.get("new", "")
        if found is None or not old or not new:
            return _send(_filled("phrase", wrong=say["empty"]), 400)
        if wait := tries.take(found.code, request.remote_addr or ""):
            return _later("/", found.code, wait)
        if not is_right(found, old):
            return _send(_filled("phrase", wrong=say["old_wrong"]), 400)
        try:
            kept = replace(found, hash=hashed(check_phrase(new, found.code)), since=_today())
        except SettingsError as error:
            return _send(_filled("phrase", wrong=str(error)), 400)
        tries.forget(found.code)
        people.keep(kept, by=found.code)
        people.note(found.code, "pass phrase changed", detail=found.code)
        logout_user()
        session.clear()
        return redirect(f"{SIGN_IN}?changed=1", 303)

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
    say, asks = sign_in_words(voice), gated()
    more = {"folder": asks is not None and not asks.office, "code": who(), **values}
    return filled(f"signin/{page}.html", voice=voice, say=say, said=data_tag("said", say), **more)


def _today() -> str:
    return dt.date.today().isoformat()


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

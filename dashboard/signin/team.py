"""The administrator's pages: who may sign in and as what, and the audit of who did what."""

from __future__ import annotations

import datetime as dt
import secrets
from collections.abc import Callable, Mapping
from dataclasses import replace

from flask import Blueprint, Flask, Response, request

from dashboard.signin.who import who
from dashboard.web.bar import bar_html
from dashboard.web.files import filled
from dashboard.web.voice import desk_voice
from spread.errors import Problem, SettingsError, SpreadError
from spread.people.kept import People
from spread.people.phrases import check_code, hashed
from spread.people.roles import RIGHTS, ROLES, Person

MOST_DEEDS = 500
_SYLLABLES = [first + second for first in "bdfgklmnprstvz" for second in "aeiou"]


def add_team(server: Flask, people: People, buildings: Callable[[], Mapping[str, str]]) -> None:
    """Put the pages on a server; the gate lets administrators alone reach them.

    Parameters
    ----------
    server, people
        Where, and whose.
    buildings
        Asked for the names of an office's buildings by key whenever a page is; empty for a folder.
    """
    pages = Blueprint("team", __name__)

    def page(words: str = "", wrong: str = "", phrase: str = "", status: int = 200) -> Response:
        body = filled(
            "signin/people.html",
            bar=bar_html("/people"),
            people=list(people.everyone().values()),
            day=_day_words,
            roles={role: [RIGHTS[right] for right in RIGHTS if right in ROLES[role]] for role in ROLES},
            buildings=buildings(),
            me=who(),
            words=words,
            wrong=wrong,
            phrase=phrase,
        )
        return Response(body, status=status)

    @pages.get("/people")
    def everyone() -> Response:
        return page()

    @pages.post("/people/keep")
    def keep() -> Response:
        """Add somebody with a pass phrase that is shown once, or change what they are."""
        try:
            code = check_code(request.form.get("code", "")[:40])
            known = people.everyone().get(code)
            phrase = "" if known and "anew" not in request.form else new_phrase()
            today = dt.date.today().isoformat()
            base = known or Person(code, "", today)
            given = replace(
                base,
                roles=_roles(request.form.getlist("role"), code),
                buildings=tuple(sorted(set(request.form.getlist("building")))),
                sees_units="sees_units" in request.form,
            )
            if phrase:
                given = replace(given, hash=hashed(phrase), since=today)
            if code == who() and "administrator" not in given.roles:
                what, fix = "you would take the role from yourself", "let another administrator do it"
                raise SettingsError(Problem("People", code, what, fix))
            people.keep(given, by=who())
        except SpreadError as error:
            return page(wrong=str(error), status=400)
        return page(f"{code} is kept.", phrase=phrase)

    @pages.post("/people/take-out")
    def take_out() -> Response:
        return changed("is taken out; what they recorded stays.", people.take_out)

    @pages.post("/people/end")
    def end() -> Response:
        return changed("has to sign in again everywhere.", people.end_all)

    def changed(words: str, act: Callable[..., None]) -> Response:
        code = request.form.get("code", "")[:8]
        try:
            if code == who():
                what, fix = "this is you", "let another administrator do it, or sign out"
                raise SettingsError(Problem("People", code, what, fix))
            act(code, by=who())
        except SpreadError as error:
            return page(wrong=str(error), status=400)
        return page(f"{code} {words}")

    @pages.get("/audit")
    def audit() -> Response:
        deeds, voice = people.deeds(MOST_DEEDS), desk_voice()
        only = request.args.get("what", "")
        lines = [
            (
                voice.day(one.when.date()),
                f"{one.when:%H:%M:%S}",
                one.who or "-",
                one.what,
                one.building,
                one.detail,
            )
            for one in deeds
            if not only or one.what == only
        ]
        kinds = sorted({one.what for one in deeds})
        most = MOST_DEEDS if len(deeds) == MOST_DEEDS else 0
        return Response(
            filled(
                "signin/audit.html", bar=bar_html("/audit"), lines=lines, kinds=kinds, only=only, most=most
            )
        )

    server.register_blueprint(pages)


def new_phrase() -> str:
    """Return a pass phrase to hand over once: five made-up words, 61 bits, easy to read aloud and type."""
    return " ".join("".join(secrets.choice(_SYLLABLES) for _ in range(2)) for _ in range(5))


def _roles(given: list[str], code: str) -> tuple[str, ...]:
    if not given or not set(given) <= set(ROLES):
        raise SettingsError(Problem("People", code, "no role is chosen", f"choose among: {', '.join(ROLES)}"))
    return tuple(role for role in ROLES if role in given)


def _day_words(since: str) -> str:
    """Return the day of a pass phrase as pages say days; as it stands where a hand wrote something else."""
    try:
        return desk_voice().day(dt.date.fromisoformat(since))
    except ValueError:
        return since

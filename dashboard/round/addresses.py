"""The blueprint of the phone pages: a small page, a script and a style each, and one address to post to."""

from __future__ import annotations

import hashlib
import json
import logging
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Any

from flask import Blueprint, Flask, Response, abort, jsonify

from dashboard.round.answers import phone_fields
from dashboard.round.bring import choices
from dashboard.round.doors import DoorList
from dashboard.round.rooms import Rooms
from dashboard.round.together import Together
from dashboard.round.visit import notice_paper, visit_paper
from dashboard.signin.who import recorded, who
from dashboard.web.bar import bar_html
from dashboard.web.files import (
    FILES,
    data_tag,
    filled,
    fingerprint,
    modules_of,
    palette,
    script_tags,
    sent,
    text_of,
)
from dashboard.web.sent import sent_json
from dashboard.web.voice import asked_voice
from dashboard.words import floor_name
from spread.decisions.kept import KeptBefore
from spread.errors import SpreadError
from spread.session import Session
from spread.words import say
from spread.words.phone import phone_words
from spread.words.refusals import refusal
from spread.words.voice import LANGUAGES, Voice

VOICES = tuple(Voice(language) for language in LANGUAGES)
MOST_AT_ONCE = 40
"""Answers that one request may bring; a phone sends ten."""
PAGES = {"round": ("round/round.js",), "room": ("round/room.js",)}
"""The pages and the modules that each begins with."""
KIND_OF_ROOM_ANSWER = {"room": "inspection", "treated": "treatment", "traps": "monitor"}
KIND_OF_ROOM_ANSWER |= dict.fromkeys(("traps-set", "traps-taken-up", "told"), "note")
_log = logging.getLogger(__name__)


def building_key(session: Session) -> str:
    """Return a short key of a building by the id beside its log, and of whoever is signed in.

    Phones keep answers by it, so that what waited for one building is never sent to another that happens to
    be served at the same address, a copy of its folder neither, nor one person's answers under another's
    code.
    """
    told = (session.building.store.identity, who())
    return hashlib.sha256("\n".join(told).encode()).hexdigest()[:12]


def building_words(session: Session) -> dict[str, str]:
    """Return what a phone knows a building by: its key, its name, and who is signed in."""
    return {"key": building_key(session), "name": session.plan.name, "who": who()}


@cache
def style() -> str:
    """Return the style of the phone pages: the palette of every page and their own rules."""
    return palette() + text_of("round/field.css")


@cache
def worker() -> str:
    """Return the service worker; its text changes when anything that it keeps does."""
    entries = [entry for page in PAGES.values() for entry in page]
    modules = list(dict.fromkeys(name for entry in entries for name in modules_of(entry)))
    kept = [
        *map(text_of, modules),
        *map(str, map(phone_words, VOICES)),
        *(text_of(f"round/{name}.html") for name in (*PAGES, "field")),
        text_of("web/page.html"),
        style(),
    ]
    bars = [bar_html("/round", voice) for voice in VOICES]
    version = fingerprint([*kept, *bars, text_of("round/icon.svg")])
    files = json.dumps([f"{FILES}/{name}" for name in modules])[1:-1]
    return text_of("round/worker.js").replace("VERSION", version).replace("/*FILES*/", files)


def page(name: str) -> str:
    """Return a page of the phone, in the voice of whoever asks for it, with all that its scripts say.

    The bar is in it twice: on top on a wide screen, below on a narrow one.
    """
    voice = asked_voice()
    say = phone_words(voice)
    return filled(
        f"round/{name}.html",
        voice=voice,
        say=say,
        said=data_tag("said", say),
        scripts=script_tags(*PAGES[name]),
        bar=bar_html("/round", voice),
    )


def add_phone_pages(server: Flask, session: Session) -> None:
    """Put the phone pages on a server; they come under its guard like every page."""
    server.register_blueprint(phone_pages(session))


def phone_pages(session: Session) -> Blueprint:
    """Return the blueprint of the phone pages of a session.

    Parameters
    ----------
    session
        An open building.
    """
    pages = Blueprint("phone", __name__)
    doors, rooms, together = DoorList(session), Rooms(session), Together(session)

    @pages.get("/round")
    def round_page() -> Response:
        return sent(page("round"), "text/html")

    @pages.get("/round/field.css")
    def field_style() -> Response:
        return sent(style(), "text/css")

    @pages.get("/round/worker.js")
    def service_worker() -> Response:
        response = sent(worker(), "text/javascript")
        response.headers["Service-Worker-Allowed"] = "/"
        return response

    @pages.get("/round/manifest.webmanifest")
    def manifest() -> Response:
        return sent(text_of("round/manifest.webmanifest"), "application/manifest+json")

    @pages.get("/round/icon.svg")
    def icon() -> Response:
        return sent(text_of("round/icon.svg"), "image/svg+xml")

    @pages.get("/round/icon-<int:size>.png")
    def picture(size: int) -> Response:
        path = Path(__file__).parent / f"icon-{size}.png"
        if size not in (192, 512) or not path.exists():
            return Response(status=404)
        return sent(path.read_bytes(), "image/png")

    @pages.get("/room/")
    @pages.get("/room/<path:unit>")
    def room_page(unit: str = "") -> tuple[Response, int]:
        # One page for every room: its script reads the unit from the address, so that one copy opens them all
        # without a connection.
        known = not unit or unit in session.plan.units
        return sent(page("room"), "text/html"), 200 if known else 404

    @pages.get("/room/sheet.json")
    def any_room() -> Response:
        return jsonify(building=building_words(session), **rooms.any_room(asked_voice()))

    @pages.get("/round/visit/<path:unit>")
    def visit(unit: str) -> Response:
        return visit_paper(session, _known(unit, session))

    @pages.get("/round/notice/<path:unit>")
    def notice(unit: str) -> Response:
        return notice_paper(session, _known(unit, session))

    @pages.post("/round/answers")
    def answers() -> tuple[Response, int]:
        told = sent_json()
        building, voice = building_words(session), asked_voice()
        given = told.get("answers")
        waiting = given[:MOST_AT_ONCE] if isinstance(given, list) else []
        if waiting and told.get("building") != building["key"]:
            return jsonify(building=building, words=_not_here(voice)), 409
        replies = [_keep(session, rooms, answer, voice) for answer in waiting]
        reply: dict[str, Any] = {
            "building": building,
            "day": session.today.isoformat(),
            "live": session.live,
            "busy": session.busy,
            "version": session.version,
            "replies": replies,
        }
        want = told.get("want")
        asked = want if isinstance(want, Mapping) else {}
        if _is_unit(asked.get("room"), session):
            reply["room"] = rooms.room(asked, voice=voice)
        elif want is not None and "room" not in asked:
            now = together.part(asked, voice, doors.part) if "split" in asked else together.now(asked, voice)
            reply |= {
                "now": now,
                "round": doors.next(want, voice, holds=now["holds"], taken=now["taken"]),
                "choices": choices(voice),
                "units": _floors(session, voice),
            }
            if _is_unit(asked.get("unit"), session):
                reply["door"] = doors.door(str(asked["unit"]), reply["round"]["method"], voice=voice)
        return jsonify(reply), 200

    @pages.post("/round/now")
    def meanwhile() -> tuple[Response, int]:
        told = sent_json()
        building, voice = building_words(session), asked_voice()
        if told.get("building") not in ("", building["key"]):
            return jsonify(building=building, words=_not_here(voice)), 409
        return jsonify(building=building, **together.now(told, voice)), 200

    return pages


def _not_here(voice: Voice) -> str:
    return voice.text("These answers are for another building, or somebody else's.")


def _known(unit: str, session: Session) -> str:
    if not _is_unit(unit, session):
        abort(404)
    return unit


def _is_unit(told: object, session: Session) -> bool:
    return isinstance(told, str) and told in session.plan.units


def _floors(session: Session, voice: Voice) -> dict[str, str]:
    """Return on which floor each unit is, in words."""
    return {
        unit.id: voice.joined([floor_name(floor, voice) for floor in unit.parts])
        for unit in session.plan.units.values()
    }


def _keep(session: Session, rooms: Rooms, answer: object, voice: Voice) -> dict[str, Any]:
    """Record one answer; say by its id whether it is kept, or in a sentence why it cannot be."""
    identity = answer.get("id") if isinstance(answer, Mapping) else None
    reply: dict[str, Any] = {"id": identity if isinstance(identity, str) else ""}
    try:
        if _kept_before(session, answer):
            return reply | {"ok": True, "new": False, "words": say(KeptBefore(), voice)}
        log = session.view.log
        listed = isinstance(answer, Mapping) and ("items" in answer or "job" in answer)
        codes = rooms.sheet.by_code if listed else ()
        code = str(answer.get("unit")) if isinstance(answer, Mapping) else ""
        fields = phone_fields(_at_home(session, answer), session.plan, session.today, log, codes)
        kept = recorded(session, fields | ({"unit": code} if code in session.building.codes else {}))
    except SpreadError as error:
        return reply | {"ok": False, "words": refusal(error, voice)}
    except Exception:
        # One answer that trips the server must not hold up those behind it; the phone keeps it and says so.
        _log.exception("an answer from a phone could not be kept")
        words = voice.text("The server failed at this answer. It is kept on the phone.")
        return reply | {"ok": False, "words": words}
    return reply | {"ok": True, "new": kept.new, "words": say(kept.told, voice)}


def _at_home(session: Session, answer: object) -> object:
    """Return an answer at the unit of today: a phone without a connection still has the codes of its list."""
    code = answer.get("unit") if isinstance(answer, Mapping) else None
    if not isinstance(answer, Mapping) or not isinstance(code, str) or code in session.plan.units:
        return answer
    homes = session.building.homes.of(code, session.today) if code in session.building.codes else ()
    return {**answer, "unit": homes[0].unit} if homes else answer


def _kept_before(session: Session, answer: object) -> bool:
    """Say whether an answer of the room page is recorded already.

    What such an answer says may rest on the log (the level that is proposed, the row that it corrects),
    so a repeat is known by its id, unit and kind and not worked out anew.
    """
    kind = KIND_OF_ROOM_ANSWER.get(str(answer.get("answer"))) if isinstance(answer, Mapping) else None
    if kind is None or not isinstance(answer, Mapping):
        return False
    row = session.building.store.log.by_id.get(str(answer.get("id")))
    return row is not None and row.unit == answer.get("unit") and row.kind == kind

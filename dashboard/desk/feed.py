"""The calendar feed: visits and duties at an address with a key, made and revoked on the page of revisits."""

from __future__ import annotations

import datetime as dt

from flask import Flask, Response, abort, jsonify, request

from dashboard.signin.gate import FEED
from dashboard.signin.who import note, who
from dashboard.web.answering import private
from dashboard.web.sent import sent_json
from spread.errors import SpreadError
from spread.records.feed import FEED_FILE, feed_keys, make_key, opens, revoke_key
from spread.report.exchange.bundle import EXPORTS, make_export
from spread.session import Session
from spread.words import Voice

LONGEST_KEY = 200


def add_feed(server: Flask, session: Session) -> None:
    """Put the feed and its keys on a server; the feed itself asks for no sign-in but for a key."""

    @server.get(FEED)
    def feed() -> Response:
        key = request.args.get("key", "")
        # A wrong key and a building without keys are answered alike: there is nothing here.
        if len(key) > LONGEST_KEY or not opens(session.building.store.beside(FEED_FILE), key):
            abort(404)
        data = make_export(session, "icalendar")
        return private(Response(data, content_type=EXPORTS["icalendar"].media_type))

    @server.post("/calendar/make")
    def make() -> Response:
        sent_json()
        try:
            key = make_key(session.building.store, session.today, who())
        except (SpreadError, OSError):
            return jsonify(ok=False, words="The key could not be kept, so that none was made; press again.")
        note("calendar key made")
        return jsonify(ok=True, words="", address=f"{FEED}?key={key}")

    @server.post("/calendar/revoke")
    def revoke() -> Response:
        name = str(sent_json().get("name") or "")[:20]
        try:
            gone = revoke_key(session.building.store, name)
        except (SpreadError, OSError):
            return jsonify(ok=False, words="The key could not be taken out, and still opens; press again.")
        note("calendar key revoked", name)
        return jsonify(ok=True, words="" if gone else "There is no such key any more.")


def keys_shown(session: Session, voice: Voice) -> list[dict[str, str]]:
    """Return the keys that open the feed, as a page names them: by the day and who made them."""
    return [
        {"name": one.name, "made": voice.day(dt.date.fromisoformat(one.made)), "by": one.by}
        for one in feed_keys(session.building.store.beside(FEED_FILE))
    ]

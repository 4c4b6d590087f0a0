"""Photographs from a phone: each sent once under the name that its finding has, shown to who may see it."""

from __future__ import annotations

from typing import Any

from flask import Blueprint, Flask, Response, abort, request

from dashboard.pages import Page
from dashboard.round.addresses import building_key
from dashboard.signin.who import require
from dashboard.web.files import sent
from dashboard.web.voice import asked_voice
from spread.errors import SpreadError
from spread.people.roles import RECORD
from spread.records.photographs import LARGEST, cleaned, is_name
from spread.session import Session
from spread.words.refusals import refusal


def add_photographs(server: Flask, session: Session) -> None:
    """Put the two addresses on a server."""
    pages = Blueprint("photographs", __name__)

    @pages.post("/photographs/<path:name>")
    def keep(name: str) -> tuple[dict[str, Any], int]:
        voice = asked_voice()
        if not is_name(name) or request.mimetype != "image/jpeg":
            abort(400, voice.text("That is no photograph of ours; take it again."))
        if request.args.get("building") != building_key(session):
            abort(409, voice.text("This photograph is for another building, or somebody else's."))
        try:
            require(RECORD)
            kept = cleaned(request.get_data())
            new = session.building.store.keep_photograph(name, kept.data)
        except SpreadError as error:
            return {"ok": False, "words": refusal(error, voice)}, 422
        return {"ok": True, "new": new}, 200

    @pages.get("/photographs/<path:name>")
    def show(name: str) -> Response:
        data = session.building.store.photograph(name)
        if data is None:
            abort(404)
        return sent(data, "image/jpeg")

    server.register_blueprint(pages)


PAGE = Page(
    "/photographs",
    "Photographs",
    "what was found",
    routes=add_photographs,
    in_bar=False,
    largest_body=LARGEST + 1024,
)

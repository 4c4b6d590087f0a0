"""What the room page shows of one unit: sheet, proposal, treatment plan, and what clearance lacks."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cached_property
from typing import Any

from dashboard.round.room_answers import LOOKED, read_findings, signs_in_order
from dashboard.words import (
    chance_class,
    chance_name,
    floor_name,
)
from spread.decisions.case.catches import catches_of
from spread.decisions.case.followup import NEVER
from spread.decisions.case.materials import Home
from spread.decisions.case.survival import survival_of
from spread.decisions.case.traps import traps_of
from spread.decisions.case.treatment import plan_of
from spread.decisions.room.findings import propose_for
from spread.decisions.room.sheet import SleepingPlace, read_places, room_sheet
from spread.errors import SpreadError, told
from spread.facts import as_json
from spread.records.kinds import LEVELS, MONITORS, OPENED, PETS, PREPARED, STAGES, STATES
from spread.records.looked import looked_as
from spread.report.room_text import room_data
from spread.session import Session
from spread.trade.probes import live_rules
from spread.trade.registry import TREATMENTS
from spread.trade.room import SEATS, RoomItems, load_room
from spread.words import ENGLISH, Voice, say
from spread.words.credit import doubt_templates, never_clears, published_heat
from spread.words.doors import reason_text, sure_words
from spread.words.followup import followup_data
from spread.words.job import opened_choice, pets_choice, prepared_choice
from spread.words.records import describe
from spread.words.refusals import refusal
from spread.words.terms import level_choice, level_name, method_name, sign_choice
from spread.words.treatment import plan_data
from spread.words.voice import NAMES, NOTICE_LANGUAGES, upper

SHOWN_PERIODS = 4
"""Readings of the traps that a phone shows beside each other."""


class Rooms:
    """Makes the room page's data from a session; the sheet is read once, from the building's folder."""

    def __init__(self, session: Session) -> None:
        self._session = session

    @cached_property
    def sheet(self) -> RoomItems:
        """The firm's sheet if the building's folder has one, else ours."""
        return load_room(self._session.building.folder)

    def any_room(self, voice: Voice = ENGLISH) -> dict[str, Any]:
        """Return what a phone keeps for rooms that it never asked for: the sheet of one bed, and words."""
        session = self._session
        unit = next(iter(session.plan.units))
        sheet = room_data(room_sheet(unit, session.plan, self.sheet, whole=True), voice)
        kept = {key: sheet[key] for key in ("rows", "checks", "notes", "tools")}
        kept["rows"] = [{**row, "near": "", "facts": []} for row in kept["rows"]]  # that is one room's own
        return {
            "sheet": kept | {"places": [{"kind": "bed", "name": "bed"}], "known": []},
            "words": words(voice),
        }

    def room(self, ask: Mapping[str, object], voice: Voice = ENGLISH) -> dict[str, Any]:
        """Return the room of a unit.

        Parameters
        ----------
        ask
            ``room``, a unit of the plan; ``places`` where people sleep, in words; and ``items``, findings
            that are not saved yet, for the level that they propose.
        voice
            In which the room is told.
        """
        session = self._session
        unit = str(ask["room"])
        view, plan = session.view, session.plan
        chance = float(view.posterior.chance[view.network.index[unit]])
        row = next(row for row in session.doors() if row.unit == unit)
        places, wrong = self._places(ask.get("places"), voice)
        sheet = room_sheet(
            unit, plan, self.sheet, places=places, log=view.log, on=session.today, chance=chance, whole=True
        )
        reply: dict[str, Any] = {
            "unit": unit,
            "floor": voice.joined([floor_name(floor, voice) for floor in plan.units[unit].parts]),
            "class": chance_class(chance),
            "percent": voice.percent(chance),
            "chance_words": chance_name(chance, voice),
            "sure": sure_words(row.sure, voice),
            "status": row.status,
            "why": reason_text(row.reasons, voice),
            "sheet": room_data(sheet, voice),
            "places_wrong": wrong,
            "followup": followup_data(view.followups[unit], voice),
            "never": voice.term("line", NEVER),
            "plan": self._plan(unit, sheet.places, voice),
            "traps": self._traps(unit, voice),
            "today": self._today(unit, voice),
            "words": words(voice),
        }
        if isinstance(ask.get("items"), list) and ask["items"]:
            reply["proposal"] = self._proposal(ask, unit, voice)
        return reply

    def _plan(self, unit: str, places: Sequence[SleepingPlace], voice: Voice) -> dict[str, Any]:
        """Return the treatment plan from what is recorded, or in a sentence why there is none."""
        session = self._session
        kinds = tuple(place.kind for place in places)
        try:
            made = plan_of(
                session.view.log.of(unit),
                unit,
                session.today,
                self.sheet,
                Home(
                    sleeping="bed" if set(kinds) - set(SEATS) else "sofa",
                    sofas=kinds.count("sofa"),
                    kinds=kinds,
                    room_celsius=session.building.settings.clearance.room_celsius,
                ),
            )
        except SpreadError:
            return {
                "none": voice.text(
                    "There is no find on record, so nothing is planned. An alert is confirmed first."
                )
            }
        told, span = plan_data(made, voice), made.minutes
        survival = survival_of(session.view.posterior, unit, made.failing)
        shown = ("item", "name", "place", "why", "do", "product", "caution", "source")
        lines = {part: [line["text"] for line in told[part]] for part in ("prepare", "must_not", "cautions")}
        return {
            "level": upper(level_name(made.level, voice)),
            "basis": told["basis"],
            "minutes": round(span.central),
            "minutes_span": voice.text("{low} to {high}", low=f"{span.low:g}", high=f"{span.high:g}"),
            "product": told["product_words"]["text"],
            "steps": [{key: step[key] for key in shown} for step in told["steps"]],
            "tools": told["tools"],
            "materials": [[thing["name"], thing["count"], thing["words"]] for thing in told["materials"]],
            **lines,
            "cautions": [told["label"]["text"], *lines["cautions"]],
            "notes": told["notes"],
            "failing": " ".join(filter(None, (told["failing"], say(survival, voice) if survival else ""))),
        }

    def _traps(self, unit: str, voice: Voice) -> dict[str, Any]:
        """Return which traps stand, since when, what each caught when, and in words."""
        rows, day = self._session.view.log.of(unit), self._session.today
        stand, caught = traps_of(rows, day), catches_of(rows, day)
        periods = sorted({when for one in caught.traps for when, _ in one.caught})[-SHOWN_PERIODS:]
        return {
            **as_json(stand),  # type: ignore[dict-item]
            "words": say(stand, voice),
            "points": say(caught, voice) if caught.places and periods else "",
            "periods": [voice.short_day(when) for when in periods],
            "caught": [[one.place, [dict(one.caught)[when] for when in periods]] for one in caught.traps],
        }

    def _today(self, unit: str, voice: Voice) -> list[str]:
        """Return what is on record of today's visit, a line a row."""
        rows = self._session.view.log.of(unit)
        return [describe(row, voice) for row in rows if row.when == self._session.today]

    def _places(self, said: object, voice: Voice) -> tuple[Any, str]:
        if not isinstance(said, str) or not said.strip():
            return (), ""
        try:
            return read_places(said, file=told("sleeping places")), ""
        except SpreadError as error:
            return (), refusal(error, voice)

    def _proposal(self, ask: Mapping[str, object], unit: str, voice: Voice) -> dict[str, Any]:
        session = self._session
        try:
            items = read_findings(ask["items"], self.sheet.by_code)
        except SpreadError as error:
            return {"wrong": refusal(error, voice)}
        corrected = ask.get("from")
        past = [row for row in session.view.log.of(unit) if row.id != corrected]
        made = propose_for(items, past, session.today)
        return {
            "found": made.found,
            "level": made.level,
            "level_words": upper(level_name(made.level, voice)) if made.level else "",
            "bugs": made.bugs,
            "signs": signs_in_order(made.signs),
            "words": say(made, voice),
            "method": looked_as(items),
            "wrong": "",
        }


def words(voice: Voice = ENGLISH) -> dict[str, Any]:
    """Return the words that the room page offers."""
    term = voice.term
    return {
        "evidence": [sign_choice(sign, voice) for sign in ("live", "eggs", "skins", "stains", "dead")],
        "stages": [[stage, term("stage", stage)] for stage in STAGES],
        "states": [[state, term("state", state)] for state in STATES],
        "levels": [level_choice(level, voice) for level in LEVELS],
        "looks": [[method, method_name(method, voice)] for method in LOOKED],
        "treatments": [[way, term("treatment", row.short)] for way, row in TREATMENTS.items()],
        "traps": [[method, method_name(method, voice)] for method in MONITORS],
        "heat": {
            "rules": live_rules(),
            "methods": [way for way, row in TREATMENTS.items() if row.heats_rooms],
            "doubts": doubt_templates(voice),
            "published": published_heat(voice),
            "never": never_clears(voice),
        },
        "notices": [[language, NAMES[language]] for language in NOTICE_LANGUAGES],
        "job": {
            "prepared": [[word, prepared_choice(word, voice)] for word in PREPARED],
            "pets": [[word, pets_choice(word, voice)] for word in PETS],
            "opened": [[word, opened_choice(word, voice)] for word in OPENED],
        },
    }

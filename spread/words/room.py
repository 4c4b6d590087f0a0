"""The room behind a door in words: where to look, what is known of it, and what findings amount to."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace
from functools import cache
from typing import Any

from spread.contacts.bed import HALLWAY, OUTSIDE
from spread.decisions.room import sheet as facts
from spread.decisions.room.findings import LIGHT_LIMIT, Proposal
from spread.records.kinds import Finding
from spread.records.looked import Unseen
from spread.records.words import EVIDENCE_WORDS
from spread.trade import biology
from spread.trade.room import NEAR_BED, REACH, TEXTS, RoomItem, load_room
from spread.words.saying import say
from spread.words.terms import level_name, place_name, sign_name
from spread.words.voice import Voice, upper

OUTLETS_TOLD = 4
"""Outlets named one by one; a sheet for paper has one page."""
RISERS_TOLD = 4
"""Units that a riser reaches named one by one where there are more than one more."""


def item_in(item: RoomItem, voice: Voice) -> RoomItem:
    """Return an item of a room sheet with its texts in the language, as far as a catalogue has them."""
    told: dict[str, Any] = {name: voice.term("room", getattr(item, name)) for name in TEXTS}
    tools = tuple(tool_name(tool, voice) for tool in item.tools)
    return replace(item, **told, tools=tools, source=source_words(item.source, voice))


def tool_name(tool: str, voice: Voice) -> str:
    """Return what a tool of a room sheet is called."""
    return voice.term("tool", tool)


def source_words(source: str, voice: Voice) -> str:
    """Return where a row is from."""
    return voice.term("source", source)


def origin(source: str, confidence: str, voice: Voice) -> str:
    """Return a source with its confidence, which common practice has none of."""
    said = source_words(source, voice)
    if not confidence:
        return said
    return voice.text("{source}; confidence {grade}", source=said, grade=confidence)


def ring_words(ring: int, voice: Voice) -> str:
    """Return how far a ring is from where people sleep."""
    return (
        voice.text("where people sleep"),
        voice.text("touching or beside it"),
        voice.text("within {distance} of it", distance=voice.distance(REACH, 1)),
        voice.text("the rest of the room"),
        voice.text("the rest of the home"),
    )[ring]


def share(row: facts.SheetRow, voice: Voice) -> str:
    """Return how likely a row is the place to look, in words that a hurried reader cannot misread."""
    of_100 = round(100 * row.weight)
    if 100 * row.weight < 0.5:
        return voice.text("rarely")
    return voice.text("{number} of 100 bugs", number=max(1, of_100))


@cache
def _names() -> Mapping[str, str]:
    return {item.code: item.name for item in load_room().items}


def item_name(code: str, voice: Voice) -> str:
    """Return what an item of a row is called within a sentence; its code where our sheet has none."""
    name = _names().get(code)
    return voice.term("room", name).lower() if name else code


def place_names(places: Sequence[facts.SleepingPlace], voice: Voice) -> str:
    """Return sleeping places one after another."""
    return ", ".join(place_name(place.name, voice) for place in places)


def bed_words(reach: Mapping[str, Any], voice: Voice) -> tuple[str, ...]:
    """Return a sentence a bed: which walls, risers and outlets are within reach of it."""
    several = len(reach["beds"]) > 1
    radius = voice.distance(reach["radius_m"], 1)
    said = []
    for number, bed in enumerate(reach["beds"], start=1):
        parts = [
            voice.text(
                "the {wall} ({distance} away)", wall=_wall(wall["to"], voice), distance=_away(wall, voice)
            )
            for wall in bed["walls"]
            if wall["to"] != OUTSIDE
        ]
        parts += [_riser(riser, voice) for riser in bed["risers"]]
        parts += _outlets(bed["outlets"], voice)
        found = voice.joined(parts) if parts else voice.text("no shared wall and no riser")
        values = {"radius": radius, "found": found}
        said.append(
            voice.text("Bed {number} has within {radius}: {found}.", number=number, **values)
            if several
            else voice.text("The bed has within {radius}: {found}.", **values)
        )
    return tuple(said)


def _away(one: Mapping[str, Any], voice: Voice) -> str:
    return voice.distance(one["distance_m"], 1)


def _riser(riser: Mapping[str, Any], voice: Voice) -> str:
    others, distance = riser["units"], _away(riser, voice)
    name = riser["id"]
    if not name.lower().startswith("riser"):
        name = voice.text("riser {name}", name=name)
    if not others:
        return voice.text("{thing} ({distance} away)", thing=name, distance=distance)
    told = others
    if len(others) > RISERS_TOLD + 1:
        more = len(others) - RISERS_TOLD
        told = [*others[:RISERS_TOLD], voice.text("{number} more", number=more)]
    return voice.text(
        "{riser} ({distance} away, which reaches {units})",
        riser=name, distance=distance, units=voice.joined(told),
    )  # fmt: skip


def _outlets(outlets: Sequence[Mapping[str, Any]], voice: Voice) -> list[str]:
    """Return outlets within reach, the nearest few one by one and how many more there are."""
    told = [_outlet(outlet, voice) for outlet in outlets[:OUTLETS_TOLD]]
    more = len(outlets) - len(told)
    return [*told, voice.many("{number} more outlet", "{number} more outlets", more)] if more else told


def _outlet(outlet: Mapping[str, Any], voice: Voice) -> str:
    name, distance = outlet["id"], _away(outlet, voice)
    if not name.lower().startswith(("outlet", "jack")):
        name = voice.text("outlet {name}", name=name)
    if not outlet["wall"]:
        return voice.text("{thing} ({distance} away)", thing=name, distance=distance)
    wall = _wall(outlet["wall"], voice)
    return voice.text("{outlet} ({distance} away, on the {wall})", outlet=name, distance=distance, wall=wall)


def _wall(to: str, voice: Voice) -> str:
    if to == HALLWAY:
        return voice.text("hallway wall")
    return voice.text("outside wall") if to == OUTSIDE else voice.text("wall to {unit}", unit=to)


@say.register
def _(fact: facts.OutletsNear, voice: Voice) -> str:
    told = "; ".join(_outlets(fact.outlets, voice))
    radius = voice.distance(fact.radius_m, 1)
    if fact.beds == 1:
        where = voice.text("Within {radius} of the bed: {outlets}.", radius=radius, outlets=told)
    else:
        where = voice.text("Within {radius} of a bed: {outlets}.", radius=radius, outlets=told)
    # Common practice, no source.
    return f"{where} {voice.text('Cover off only with the power off; dust only.')}"


@say.register
def _(fact: facts.LastSeen, voice: Voice) -> str:
    seen = "; ".join(dict.fromkeys(_finding(one, voice) for one in fact.findings))
    return voice.text("{seen} ({day})", seen=seen, day=voice.day(fact.when))


def _finding(one: Finding, voice: Voice) -> str:
    signs = " + ".join(sign_name(sign, voice) for sign in EVIDENCE_WORDS if sign in one.evidence)
    parts = [
        signs or ("" if one.state else voice.text("nothing seen")),
        "" if one.count is None else voice.number(one.count),
        one.stage and voice.term("stage", one.stage),
        one.state and voice.term("state", one.state),
        place_name(one.place, voice),
    ]
    return ", ".join(part for part in parts if part)


@say.register
def _(fact: facts.ModelChance, voice: Voice) -> str:
    return voice.text(
        "The model gives it a chance of {chance}; that is no reason to look less well.",
        chance=voice.percent(fact.chance),
    )


@say.register
def _(fact: facts.FarFromBed, voice: Voice) -> str:
    return voice.text(
        "Of {finds} places with bugs on record in this building, as far as their distance is, {within} were "
        "within {reach} of the bed and {near} within {far}; published: {low} to {high} of 100 bugs within "
        "{far} ({source}).",
        finds=voice.number(fact.finds),
        within=voice.number(fact.within),
        near=voice.number(fact.near),
        reach=voice.distance(REACH, 1),
        far=voice.distance(NEAR_BED, 1),
        low=round(100 * fact.published.low),
        high=round(100 * fact.published.high),
        source=origin(fact.published.source, fact.published.confidence, voice),
    )


@say.register
def _(fact: facts.FoundOn, voice: Voice) -> str:
    return voice.text("Last find: {day}.", day=voice.day(fact.when))


@say.register
def _(fact: facts.TreatedOn, voice: Voice) -> str:
    return voice.text(
        "Treated on {day}: old stains and skins may be from before; look for live bugs and eggs.",
        day=voice.day(fact.when),
    )


@say.register
def _(fact: facts.KnownWithinReach, voice: Voice) -> str:
    return voice.text(
        "Known infested or under treatment, and within reach of the bed: {units}. "
        "Start on that side: baseboard, outlets, headboard.",
        units=", ".join(fact.units),
    )


@say.register
def _(fact: Proposal, voice: Voice) -> str:
    if fact.bugs:
        return _active(fact, voice)
    if fact.clusters:
        return _old(fact, voice)
    if fact.signs:
        return voice.text(
            "Only {signs}: that decides nothing. Look for live bugs and eggs, or set traps.",
            signs=_signs(fact.signs, voice),
        )
    if fact.unseen:
        return voice.text(
            "Nothing seen so far, and this says nothing yet: {rows} not looked at.",
            rows=voice.joined([say(row, voice) for row in fact.unseen]),
        )
    return voice.many(
        "Nothing seen at {number} item; one look does not clear a unit.",
        "Nothing seen at {number} items; one look does not clear a unit.",
        fact.items,
    )


def _active(fact: Proposal, voice: Voice) -> str:
    low, high = biology.COUNT_CLASSES[biology.LEVEL_NAMES.index(fact.level) - 1]
    if high is None:
        span = voice.text("more than {number}", number=low - 1)
    else:
        span = voice.text("{low} to {high}", low=low, high=high)
    parts = []
    if fact.counted:
        parts.append(voice.many("{number} live bug counted", "{number} live bugs counted", fact.counted))
    if fact.uncounted:
        parts.append(
            voice.many(
                "live bugs not counted at {number} item",
                "live bugs not counted at {number} items",
                fact.uncounted,
            )
        )
    if fact.eggs:
        parts.append(voice.many("viable eggs at {number} item", "viable eggs at {number} items", fact.eggs))
    seen = upper(voice.joined(parts))
    level = level_name(fact.level, voice)
    said = [voice.text("{seen}: {level} is {span}.", seen=seen, level=level, span=span)]
    if fact.uncounted or fact.eggs:
        said.append(voice.text("What was not counted is taken as one each, so it may be more."))
    if fact.level == "moderate":
        light = fact.bugs < LIGHT_LIMIT
        said.append(
            voice.text(
                "One trial calls fewer than {limit} a light infestation; here it is fewer.", limit=LIGHT_LIMIT
            )
            if light
            else voice.text(
                "One trial calls fewer than {limit} a light infestation; here it is not fewer.",
                limit=LIGHT_LIMIT,
            )
        )
    return " ".join(said)


def _old(fact: Proposal, voice: Voice) -> str:
    names = (voice.term("item", code.replace("-", " ")) for code in dict.fromkeys(fact.clusters))
    signs, where = _signs(fact.signs, voice), ", ".join(names)
    seen = voice.text("No live bug and no viable egg, but {signs} at {items}.", signs=signs, items=where)
    if fact.treated_on is not None:
        treated = voice.text(
            "The unit was treated on {day}, so they may be old: past or present. They count for less than "
            "live bugs and propose no level; look for live bugs and eggs, wipe the spots away so that new "
            "ones show, and check the traps.",
            day=voice.day(fact.treated_on),
        )
        return f"{seen} {treated}"
    present = voice.many(
        "The unit was never treated, so they are taken for present: one cluster of signs, {level}.",
        "The unit was never treated, so they are taken for present: {number} clusters of signs, {level}.",
        len(fact.clusters),
        level=level_name(fact.level, voice),
    )
    return f"{seen} {present}"


def _signs(signs: Collection[str], voice: Voice) -> str:
    return voice.joined([sign_name(sign, voice) for sign in EVIDENCE_WORDS if sign in signs])


@say.register
def _(fact: Unseen, voice: Voice) -> str:
    item = item_name(fact.item, voice)
    return (
        voice.text("{item} at {place}", item=item, place=place_name(fact.place, voice))
        if fact.place
        else item
    )

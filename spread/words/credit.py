"""Whether heat, cold, laundry or steam was enough, in words, and what each published hold counts for."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from spread.trade.credit import Credit, Doubt, coolest, counting, fahrenheit
from spread.trade.holds import COLD, HEAT, HEAT_WORKING_MINUTES, LAUNDRY, STEAM, STEAM_HOTTEST, Row
from spread.trade.probes import IN_A_ROW, LONGEST_GAP
from spread.words.saying import say
from spread.words.voice import Voice

EGGS_TOO = HEAT[2]
"""The hold that is named where one was enough for adults alone."""


def hold_rows() -> tuple[Row, ...]:
    """Return every row of the tables of heat, cold, laundry and steam."""
    return (*HEAT, *COLD, *(row for rows in LAUNDRY.values() for row in rows), STEAM)


def hold_name(row: Row, voice: Voice) -> str:
    """Return what has to be met, such as ``48 C (118 F) for 72 minutes``."""
    return voice.term("hold", row.name)


def counts_for(row: Row, voice: Voice) -> str:
    """Return what a row counts for, in words that follow "counts for"."""
    if not row.credited:
        return voice.text("nothing: eggs live")
    if row is STEAM:
        return voice.text("a pass well done; some nymphs and adults live")
    return voice.text("all stages, eggs too") if row.stages == "all" else voice.text("adults only, not eggs")


def never_clears(voice: Voice) -> str:
    """Return what is said beside every credit."""
    return voice.text(
        "A credit is of the place that was measured and never clears a unit. The maker's manual, the label "
        "and licensed practice come first: heat and steam burn, damage finishes and set off sprinklers."
    )


@say.register
def _(fact: Credit, voice: Voice) -> str:
    if fact.doubts:
        told = voice.text(
            "Not credited: the log of the probes is not believed. Check these and measure again."
        )
        return " ".join([told, *(say(doubt, voice) for doubt in fact.doubts)])
    said = _SAID[fact.how](fact, voice)
    if not fact.probes:
        return said
    if fact.given:
        return voice.text("Every probe: {verdict}", verdict=said)
    parts = [voice.text("Probe {probe} decides. {verdict}", probe=fact.probe, verdict=said)]
    if fact.gap_minutes > LONGEST_GAP:
        parts.append(
            voice.text(
                "Its readings are up to {gap} minutes apart: a gap of more than {longest} minutes breaks a "
                "hold, since nobody knows what was between.",
                gap=_figure(fact.gap_minutes, voice), longest=_figure(LONGEST_GAP, voice),
            )
        )  # fmt: skip
    if fact.others > 1:
        parts.append(voice.text("So do {number} more probes.", number=fact.others))
    return " ".join(parts)


@say.register
def _(fact: Doubt, voice: Voice) -> str:
    value, limit = _figure(round(fact.value, 1), voice), _figure(round(fact.limit, 1), voice)
    given = {"probe": fact.probe, "value": value, "limit": limit, "minute": _figure(fact.minute, voice)}
    return _DOUBTS[fact.kind](voice, {**given, "other": fact.other})


_DOUBTS: Mapping[str, Callable[[Voice, dict[str, str]], str]] = {
    "few-readings": lambda voice, given: voice.text(
        "Probe {probe} has {value} readings; it takes {limit} at least, from before the heat on.", **given
    ),
    "hot-start": lambda voice, given: voice.text(
        "Probe {probe} begins at {value} C: a home is not so warm before it is heated. Is the log in degrees "
        "F, or did it begin late?",
        **given,
    ),
    "too-hot": lambda voice, given: voice.text(
        "Probe {probe} reads {value} C at minute {minute}: rooms are not heated over {limit} C. Is the log "
        "in degrees F, or did the probe lie at a heater?",
        **given,
    ),
    "jump": lambda voice, given: voice.text(
        "Probe {probe} jumps by {value} C at minute {minute}: did it fall into the air, was it moved, or is "
        "it broken?",
        **given,
    ),
    "fast": lambda voice, given: voice.text(
        "Probe {probe} rises {value} C a minute up to minute {minute}: furniture does not warm so fast, air "
        "does.",
        **given,
    ),
    "gap": lambda voice, given: voice.text(
        "Probe {probe} has no reading for {value} minutes up to minute {minute}: nobody knows what was "
        "between.",
        **given,
    ),
    "flat": lambda voice, given: voice.text(
        "Probe {probe} reads the same for {value} minutes from minute {minute}: is its logger stuck?", **given
    ),
    "zigzag": lambda voice, given: voice.text(
        "Probe {probe} goes up and down {value} times from minute {minute}: is a plug loose?", **given
    ),
    "long": lambda voice, given: voice.text(
        "The log of probe {probe} is {value} minutes long: are those seconds, or is it more than one job?",
        **given,
    ),
    "late": lambda voice, given: voice.text(
        "Probe {probe} begins {value} minutes after the first: where was it until then?", **given
    ),
    "same": lambda voice, given: voice.text(
        "Probes {probe} and {other} move together to the last digit: is one the copy of the other?", **given
    ),
    "few-probes": lambda voice, given: voice.text(
        "{value} probes lay where bugs hide, and it takes {limit}: in the bed, in the seating and in the "
        "coldest corner of a room, two in each further room (judgement). A probe in the air counts for none.",
        **given,
    ),
}


def doubt_templates(voice: Voice) -> dict[str, str]:
    """Return what is said of each kind of doubt, with the names of its values in braces."""
    return {kind: said(voice, {}) for kind, said in _DOUBTS.items()}


def published_heat(voice: Voice) -> str:
    """Return which holds of heat count for every stage, and how long is aimed for."""
    rows = counting(HEAT, "all")
    told = "; ".join(f"{hold_name(row, voice)} ({row.source})" for row in rows)
    return voice.text(
        "What counts at every probe: {rows}. Aim for {minutes} minutes at {degrees}, so that no slow probe "
        "decides.",
        rows=told, minutes=_figure(HEAT_WORKING_MINUTES, voice), degrees=degrees(coolest("all"), voice),
    )  # fmt: skip


def _hold(fact: Credit, voice: Voice) -> str:
    """Return what was measured: degrees and time."""
    time = _hours(fact.minutes, voice) if fact.how == "cold" else _time(fact.minutes, voice)
    return voice.text("{degrees} for {time}", degrees=degrees(fact.celsius, voice), time=time)


def _met(fact: Credit, row: Row, voice: Voice) -> str:
    return voice.text(
        "Credited: {hold} meets {row} ({source}).",
        hold=_hold(fact, voice), row=hold_name(row, voice), source=row.source,
    )  # fmt: skip


def _heat(fact: Credit, voice: Voice) -> str:
    hold, row = _hold(fact, voice), fact.row
    if row is None:
        least = _figure(coolest(fact.stages), voice)
        if fact.stages == "all":
            return voice.text(
                "Not credited: {hold} is too cool; nothing under {least} C counts for eggs, however long.",
                hold=hold, least=least,
            )  # fmt: skip
        return voice.text(
            "Not credited: {hold} is too cool; nothing under {least} C counts for adults, however long.",
            hold=hold, least=least,
        )  # fmt: skip
    if fact.given:
        return _met(fact, row, voice)
    if fact.why == "few-readings":
        return voice.text(
            "Not credited: {degrees} was read for a moment; it takes {count} readings in a row.",
            degrees=degrees(fact.celsius, voice), count=voice.number(IN_A_ROW),
        )  # fmt: skip
    if fact.why == "adults-only":
        return voice.text(
            "Not credited: {hold} is enough for adults and not for eggs ({source}). Hold {row}, better "
            "{minutes}.",
            hold=hold, source=row.source, row=hold_name(EGGS_TOO, voice),
            minutes=_figure(HEAT_WORKING_MINUTES, voice),
        )  # fmt: skip
    return voice.text(
        "Not credited: {hold} is too short; at {degrees} it takes {time} ({source}).",
        hold=hold, degrees=degrees(fact.celsius, voice), time=_time(row.minutes, voice), source=row.source,
    )  # fmt: skip


def _cold(fact: Credit, voice: Voice) -> str:
    hold, row = _hold(fact, voice), fact.row or COLD[-1]
    if fact.given:
        return _met(fact, row, voice)
    if fact.why == "too-short":
        return voice.text(
            "Not credited: {hold} is too short; it takes {hours} ({source}).",
            hold=hold, hours=_hours(row.minutes, voice), source=row.source,
        )  # fmt: skip
    warmest = max(one.celsius for one in COLD if one.credited)
    return voice.text(
        "Not credited: {hold} is not cold enough; it takes {degrees} or colder ({source}).",
        hold=hold, degrees=degrees(warmest, voice), source=row.source,
    )  # fmt: skip


def _laundry(fact: Credit, voice: Voice) -> str:
    row = fact.row or LAUNDRY[fact.how][-1]
    if fact.given:
        return voice.text("Credited: {row} ({source}).", row=hold_name(row, voice), source=row.source)
    if fact.how == "soak":
        return voice.text("Not credited: soaking leaves eggs alive ({source}).", source=row.source)
    celsius = _figure(fact.celsius, voice)
    if fact.how == "wash":
        return voice.text(
            "Not credited: a wash at {celsius} C may leave eggs alive ({source}); wash at 60 C (140 F), or "
            "dry hot for 30 minutes.",
            celsius=celsius, source=row.source,
        )  # fmt: skip
    return voice.text(
        "Not credited: a dryer at {celsius} C for {time} is not {row} ({source}).",
        celsius=celsius, time=_time(fact.minutes, voice), row=hold_name(row, voice), source=row.source,
    )  # fmt: skip


def _steam(fact: Credit, voice: Voice) -> str:
    surface = degrees(fact.celsius, voice)
    if not fact.given:
        return voice.text(
            "Not credited: the surface was at {degrees}; it takes {least} C; go slower or nearer ({source}).",
            degrees=surface, least=_figure(STEAM.celsius, voice), source=STEAM.source,
        )  # fmt: skip
    said = voice.text(
        "Credited as a pass well done: {degrees} at the surface ({source}). Some nymphs and adults live "
        "through it, so the visit again stands.",
        degrees=surface, source=STEAM.source,
    )  # fmt: skip
    if fact.celsius <= STEAM_HOTTEST:
        return said
    hot = voice.text(
        "Above {most} C finishes and fabrics suffer and nothing is gained.",
        most=_figure(STEAM_HOTTEST, voice),
    )
    return f"{said} {hot}"


_SAID = {"heat": _heat, "cold": _cold, **dict.fromkeys(LAUNDRY, _laundry), "steam": _steam}


def degrees(celsius: float, voice: Voice) -> str:
    """Return degrees C and, beside them, F."""
    told = _figure(round(celsius, 1), voice)
    return voice.text(
        "{celsius} C ({fahrenheit} F)", celsius=told, fahrenheit=voice.number(round(fahrenheit(celsius)))
    )


def _time(minutes: float, voice: Voice) -> str:
    if minutes <= 0:
        return voice.text("a moment")
    if minutes == 1:
        return voice.text("1 minute")
    return voice.text("{minutes} minutes", minutes=_figure(minutes, voice))


def _hours(minutes: float, voice: Voice) -> str:
    return voice.text("{hours} hours", hours=_figure(minutes / 60.0, voice))


def _figure(value: float, voice: Voice) -> str:
    """Return a measured number with as many digits as it has, three at most."""
    value = round(value, 3)
    return voice.number(value, next(places for places in range(4) if value == round(value, places)))

"""What heat, cold, laundry and steam are credited with: a hold against the published rows, met or not met.

Between two rows of a table the colder and longer one counts, the coldest probe decides, and what a row
does not say is not credited. A credit is of the place where the probe lay; it never clears a unit.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from spread.trade.holds import COLD, HEAT, HEAT_WORKING_MINUTES, LAUNDRY, STAGES, STEAM, STEAM_HOTTEST, Row

LONGEST_GAP = 15.0
"""Minutes between two readings of a probe beyond which nobody knows what was between them (judgement)."""


@dataclass(frozen=True, slots=True)
class Credit:
    """Whether a treatment of a thing or a place is credited.

    Parameters
    ----------
    given
        Whether it is, for the stages that were asked for.
    words
        Why, in one or two sentences.
    row
        The row that decided, or None where no row speaks of it.
    """

    given: bool
    words: str
    row: Row | None


def heat_credit(celsius: float, minutes: float, stages: str = "all") -> Credit:
    """Return whether a hold of heat is credited.

    Parameters
    ----------
    celsius
        The coldest reading of the hold, at the place where bugs are, not of the air.
    minutes
        How long it lasted without a break.
    stages
        ``all`` (eggs too), or ``adults``.

    Raises
    ------
    ValueError
        For numbers that are none, a time below 0, or an unknown stage.
    """
    _check(celsius, minutes, stages)
    hold = f"{_degrees(celsius)} for {_time(minutes)}"
    for row in _counting(HEAT, stages):
        if celsius >= row.celsius and minutes >= row.minutes:
            return Credit(True, f"Credited: {hold} meets {row.name} ({row.source}).", row)
    if stages == "all":
        for row in HEAT:
            if row.stages == "adults" and celsius >= row.celsius and minutes >= row.minutes:
                told = HEAT[-1] if celsius < HEAT[2].celsius and minutes >= HEAT[-1].minutes else row
                return Credit(
                    False,
                    f"Not credited: {hold} is enough for adults and not for eggs ({told.source}). "
                    f"Hold {HEAT[2].name}, better {HEAT_WORKING_MINUTES:g}.",
                    told,
                )
    wanted = next((row for row in _counting(HEAT, stages) if celsius >= row.celsius), None)
    if wanted is not None:
        short = f"at {_degrees(celsius)} it takes {_time(wanted.minutes)} ({wanted.source})"
        return Credit(False, f"Not credited: {hold} is too short; {short}.", wanted)
    least = min(row.celsius for row in _counting(HEAT, stages))
    return Credit(
        False,
        f"Not credited: {hold} is too cool; nothing under {least:g} C counts for "
        f"{'eggs' if stages == 'all' else 'adults'}, however long.",
        None,
    )


def cold_credit(celsius: float, hours: float) -> Credit:
    """Return whether a hold of cold is credited, for all stages.

    Parameters
    ----------
    celsius
        The warmest reading of the hold, in the middle of the things that were frozen.
    hours
        How long it lasted without a break.

    Raises
    ------
    ValueError
        For numbers that are none or a time below 0.
    """
    _check(celsius, hours, "all")
    minutes = 60.0 * hours
    hold = f"{_degrees(celsius)} for {hours:g} hours"
    for row in COLD:
        if row.credited and celsius <= row.celsius and minutes >= row.minutes:
            return Credit(True, f"Credited: {hold} meets {row.name} ({row.source}).", row)
    wanted = next((row for row in COLD if row.credited and celsius <= row.celsius), None)
    if wanted is not None:
        long = f"it takes {wanted.minutes / 60:g} hours ({wanted.source})"
        return Credit(False, f"Not credited: {hold} is too short; {long}.", wanted)
    row = COLD[-1]
    return Credit(
        False, f"Not credited: {hold} is not cold enough; it takes -16 C (3 F) or colder ({row.source}).", row
    )


def laundry_credit(what: str, celsius: float = 0.0, minutes: float = 0.0) -> Credit:
    """Return whether laundering is credited, for all stages.

    Parameters
    ----------
    what
        ``wash``, ``dry``, ``soak`` or ``dry-clean``.
    celsius
        Of the water or the drum; of no meaning for the last two.
    minutes
        Of the hot drying.

    Raises
    ------
    ValueError
        For an unknown word, numbers that are none, or a time below 0.
    """
    _check(celsius, minutes, "all")
    if what not in LAUNDRY:
        raise ValueError(f"the laundry {what!r} is not known; expected one of {', '.join(LAUNDRY)}")
    rows = LAUNDRY[what]
    best = rows[0]
    hot = what in ("soak", "dry-clean") or (celsius > best.celsius if best.above else celsius >= best.celsius)
    if best.credited and hot and minutes >= best.minutes:
        return Credit(True, f"Credited: {best.name} ({best.source}).", best)
    if what == "soak":
        return Credit(False, f"Not credited: soaking leaves eggs alive ({best.source}).", best)
    row = rows[-1]
    if what == "wash":
        left = f"a wash at {celsius:g} C may leave eggs alive ({row.source})"
        return Credit(False, f"Not credited: {left}; wash at 60 C (140 F), or dry hot for 30 minutes.", row)
    said = f"a dryer at {celsius:g} C for {_time(minutes)} is not {row.name} ({row.source})"
    return Credit(False, f"Not credited: {said}.", row)


def steam_credit(celsius: float) -> Credit:
    """Return whether a pass of steam was hot enough, by the surface measured right after it.

    A credited pass is one that was done well: in the laboratory it left 6-12 % of nymphs and adults alive,
    so it never stands for a visit.

    Raises
    ------
    ValueError
        When ``celsius`` is no number.
    """
    _check(celsius, 0.0, "all")
    if celsius < STEAM.celsius:
        slower = f"it takes {STEAM.celsius:g} C; go slower or nearer ({STEAM.source})"
        return Credit(False, f"Not credited: the surface was at {_degrees(celsius)}; {slower}.", STEAM)
    hot = (
        f" Above {STEAM_HOTTEST:g} C finishes and fabrics suffer and nothing is gained."
        if celsius > STEAM_HOTTEST
        else ""
    )
    said = f"Credited as a pass well done: {_degrees(celsius)} at the surface ({STEAM.source})."
    return Credit(
        True, f"{said} Some nymphs and adults live through it, so the visit again stands.{hot}", STEAM
    )


def probes_credit(probes: Mapping[str, Sequence[tuple[float, float]]], stages: str = "all") -> Credit:
    """Return whether a heat treatment is credited by the readings of its probes: the coldest decides.

    Parameters
    ----------
    probes
        Readings (minute, degrees C) by probe. Between two readings the cooler one counts, and a gap of more
        than :data:`LONGEST_GAP` minutes breaks a hold.
    stages
        As in :func:`heat_credit`.

    Raises
    ------
    ValueError
        When there is no probe, a probe has no reading, or its minutes are out of order.
    """
    if not probes or not all(probes.values()):
        raise ValueError("every probe needs readings, and there must be one probe at least")
    verdicts = {name: _probe_credit(readings, stages) for name, readings in probes.items()}
    coldest = min(probes, key=lambda name: max(celsius for _, celsius in probes[name]))
    failed = [name for name, verdict in verdicts.items() if not verdict.given]
    if not failed:
        return Credit(True, f"Every probe: {verdicts[coldest].words}", verdicts[coldest].row)
    decides = coldest if coldest in failed else failed[0]
    others = f" So do {len(failed) - 1} more probes." if len(failed) > 2 else ""
    gap = _gap_words(probes[decides], stages)
    return Credit(
        False, f"Probe {decides} decides. {verdicts[decides].words}{gap}{others}", verdicts[decides].row
    )


def _gap_words(readings: Sequence[tuple[float, float]], stages: str) -> str:
    """Say that a hold was broken by a gap between two hot readings; empty where none was."""
    least = min(row.celsius for row in _counting(HEAT, stages))
    hot = [later - began for (began, a), (later, b) in pairwise(readings) if min(a, b) >= least]
    if max(hot, default=0.0) <= LONGEST_GAP:
        return ""
    return (
        f" Its readings are up to {max(hot):g} minutes apart: a gap of more than {LONGEST_GAP:g} minutes "
        "breaks a hold, since nobody knows what was between."
    )


def _probe_credit(readings: Sequence[tuple[float, float]], stages: str) -> Credit:
    minutes = [minute for minute, _ in readings]
    if any(later <= earlier for earlier, later in pairwise(minutes)):
        raise ValueError("the readings of a probe must go forward in time")
    for row in _counting(HEAT, stages):
        held = longest_hold(readings, row.celsius)
        if held is not None and held >= row.minutes:
            return heat_credit(row.celsius, held, stages)
    lowest = min(row.celsius for row in _counting(HEAT, stages))
    held = longest_hold(readings, lowest)
    if held is None:
        return heat_credit(max(celsius for _, celsius in readings), 0.0, stages)
    return heat_credit(lowest, held, stages)


def longest_hold(readings: Sequence[tuple[float, float]], celsius: float) -> float | None:
    """Return the longest unbroken time in minutes at or above a temperature; None if it was never reached.

    Parameters
    ----------
    readings
        (minute, degrees C), in order of time.
    celsius
        Degrees C.
    """
    longest: float | None = None
    began = last = 0.0
    inside = False
    for minute, degrees in readings:
        if degrees < celsius:
            inside = False
            continue
        if not inside or minute - last > LONGEST_GAP:
            began, inside = minute, True
        last = minute
        longest = max(longest or 0.0, minute - began)
    return longest


def fahrenheit(celsius: float) -> float:
    """Return degrees Fahrenheit."""
    return celsius * 9.0 / 5.0 + 32.0


def celsius_of(degrees_f: float) -> float:
    """Return degrees C, to a millionth, so that 118.4 F is 48 C and meets its row."""
    return round((degrees_f - 32.0) * 5.0 / 9.0, 6)


def _counting(rows: Sequence[Row], stages: str) -> list[Row]:
    """Return credited rows that count for the stages: a hold that kills eggs kills the rest."""
    return [row for row in rows if row.credited and row.stages in ("all", stages)]


def _degrees(celsius: float) -> str:
    return f"{round(celsius, 1):g} C ({round(fahrenheit(celsius))} F)"


def _time(minutes: float) -> str:
    if minutes <= 0:
        return "a moment"
    return f"{minutes:g} minute{'' if minutes == 1 else 's'}"


def _check(celsius: float, time: float, stages: str) -> None:
    if not (math.isfinite(celsius) and math.isfinite(time)):
        raise ValueError(f"expected a temperature and a time, found {celsius} and {time}")
    if time < 0:
        raise ValueError(f"expected a time of 0 or more, found {time}")
    if stages not in STAGES:
        raise ValueError(f"expected one of {', '.join(STAGES)}, found {stages!r}")

"""What heat, cold, laundry and steam are credited with: a hold against the published rows, met or not met.

Between two rows of a table the colder and longer one counts, the coldest probe decides, and what a row
does not say is not credited. A credit is of the place where the probe lay; it never clears a unit.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from spread.trade.holds import COLD, HEAT, LAUNDRY, STAGES, STEAM, Row

LONGEST_GAP = 15.0
"""Minutes between two readings of a probe beyond which nobody knows what was between them (judgement)."""


@dataclass(frozen=True, slots=True)
class Credit:
    """Whether a treatment of a thing or a place is credited, for the stages that were asked for."""

    how: str  #: ``heat``, ``cold``, ``steam``, or a word of :data:`spread.trade.holds.LAUNDRY`
    #: ``met``, or what it fell short in: ``adults-only``, ``too-short``, ``too-cool``, ``too-warm`` (cold),
    #: ``not-met`` (laundry)
    why: str
    #: celsius, minutes: What was measured
    celsius: float
    minutes: float
    stages: str  #: ``all`` (eggs too), or ``adults``
    row: Row | None  #: The row that decided, or None where no row speaks of it
    probes: int = 0  #: How many probes were read; 0 where none was
    #: probe, others: The probe that decides against it, and how many others do too
    probe: str = ""
    others: int = 0
    gap_minutes: float = 0.0  #: Longest time between two hot readings of that probe

    @property
    def given(self) -> bool:
        """Whether it is credited."""
        return self.why == "met"


def heat_credit(celsius: float, minutes: float, stages: str = "all") -> Credit:
    """Return whether a hold of heat is credited.

    ``celsius``: the coldest reading of the hold, at the place where bugs are, not of the air; ``minutes``:
    how long it lasted without a break; ``stages``: ``all`` (eggs too), or ``adults``. Raises ValueError for
    numbers that are none, a time below 0, or an unknown stage.
    """
    _check(celsius, minutes, stages)
    for row in _counting(HEAT, stages):
        if celsius >= row.celsius and minutes >= row.minutes:
            return Credit("heat", "met", celsius, minutes, stages, row)
    if stages == "all":
        for row in HEAT:
            if row.stages == "adults" and celsius >= row.celsius and minutes >= row.minutes:
                told = HEAT[-1] if celsius < HEAT[2].celsius and minutes >= HEAT[-1].minutes else row
                return Credit("heat", "adults-only", celsius, minutes, stages, told)
    wanted = next((row for row in _counting(HEAT, stages) if celsius >= row.celsius), None)
    return Credit("heat", "too-short" if wanted else "too-cool", celsius, minutes, stages, wanted)


def cold_credit(celsius: float, hours: float) -> Credit:
    """Return whether a hold of cold is credited, for all stages.

    ``celsius``: the warmest reading of the hold, in the middle of the things that were frozen; ``hours``: how
    long it lasted without a break. Raises ValueError for numbers that are none or a time below 0.
    """
    _check(celsius, hours, "all")
    minutes = 60.0 * hours
    cold = [row for row in COLD if row.credited and celsius <= row.celsius]
    for row in cold:
        if minutes >= row.minutes:
            return Credit("cold", "met", celsius, minutes, "all", row)
    if cold:
        return Credit("cold", "too-short", celsius, minutes, "all", cold[0])
    return Credit("cold", "too-warm", celsius, minutes, "all", COLD[-1])


def laundry_credit(what: str, celsius: float = 0.0, minutes: float = 0.0) -> Credit:
    """Return whether laundering is credited, for all stages.

    ``what``: ``wash``, ``dry``, ``soak`` or ``dry-clean``; ``celsius``: of the water or the drum; of no
    meaning for the last two; ``minutes``: of the hot drying. Raises ValueError for an unknown word, numbers
    that are none, or a time below 0.
    """
    _check(celsius, minutes, "all")
    if what not in LAUNDRY:
        raise ValueError(f"the laundry {what!r} is not known; expected one of {', '.join(LAUNDRY)}")
    rows = LAUNDRY[what]
    best = rows[0]
    hot = what in ("soak", "dry-clean") or (celsius > best.celsius if best.above else celsius >= best.celsius)
    met = best.credited and hot and minutes >= best.minutes
    return Credit(what, "met" if met else "not-met", celsius, minutes, "all", best if met else rows[-1])


def steam_credit(celsius: float) -> Credit:
    """Return whether a pass of steam was hot enough, by the surface measured right after it.

    A credited pass is one that was done well: in the laboratory it left 6-12 % of nymphs and adults alive,
    so it never stands for a visit.

    Raises ValueError when ``celsius`` is no number.
    """
    _check(celsius, 0.0, "all")
    return Credit("steam", "met" if celsius >= STEAM.celsius else "too-cool", celsius, 0.0, "all", STEAM)


def probes_credit(probes: Mapping[str, Sequence[tuple[float, float]]], stages: str = "all") -> Credit:
    """Return whether a heat treatment is credited by the readings of its probes: the coldest decides.

    Raises ValueError when there is no probe, a probe has no reading, or its minutes are out of order.

    Parameters
    ----------
    probes
        Readings (minute, degrees C) by probe. Between two readings the cooler one counts, and a gap of
        more than :data:`LONGEST_GAP` minutes breaks a hold.
    stages : As in :func:`heat_credit`
    """
    if not probes or not all(probes.values()):
        raise ValueError("every probe needs readings, and there must be one probe at least")
    verdicts = {name: _probe_credit(readings, stages) for name, readings in probes.items()}
    coldest = min(probes, key=lambda name: max(celsius for _, celsius in probes[name]))
    failed = [name for name, verdict in verdicts.items() if not verdict.given]
    if not failed:
        return replace(verdicts[coldest], probes=len(probes))
    decides = coldest if coldest in failed else failed[0]
    least = coolest(stages)
    hot = [later - began for (began, a), (later, b) in pairwise(probes[decides]) if min(a, b) >= least]
    return replace(
        verdicts[decides],
        probes=len(probes),
        probe=decides,
        others=len(failed) - 1,
        gap_minutes=max(hot, default=0.0),
    )


def _probe_credit(readings: Sequence[tuple[float, float]], stages: str) -> Credit:
    minutes = [minute for minute, _ in readings]
    if any(later <= earlier for earlier, later in pairwise(minutes)):
        raise ValueError("the readings of a probe must go forward in time")
    for row in _counting(HEAT, stages):
        held = longest_hold(readings, row.celsius)
        if held is not None and held >= row.minutes:
            return heat_credit(row.celsius, held, stages)
    lowest = coolest(stages)
    held = longest_hold(readings, lowest)
    if held is None:
        return heat_credit(max(celsius for _, celsius in readings), 0.0, stages)
    return heat_credit(lowest, held, stages)


def longest_hold(readings: Sequence[tuple[float, float]], celsius: float) -> float | None:
    """Return the longest unbroken time in minutes at or above a temperature; None if it was never reached.

    ``readings``: (minute, degrees C), in order of time; ``celsius``: degrees C.
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


def coolest(stages: str) -> float:
    """Return the degrees C under which no heat counts for the stages."""
    return min(row.celsius for row in _counting(HEAT, stages))


def _check(celsius: float, time: float, stages: str) -> None:
    if not (math.isfinite(celsius) and math.isfinite(time)):
        raise ValueError(f"expected a temperature and a time, found {celsius} and {time}")
    if time < 0:
        raise ValueError(f"expected a time of 0 or more, found {time}")
    if stages not in STAGES:
        raise ValueError(f"expected one of {', '.join(STAGES)}, found {stages!r}")

"""Whether a heat treatment is credited by the log of its probes: a log that cannot be believed never is.

Two questions, one after the other: do the readings meet a published row at every probe, and can the log be
what it says: probes that lay where bugs hide, read in degrees C, in a home that was heated? A faulty log
looks hotter than the bugs were as easily as cooler, so whatever is odd is asked about and nothing is
credited. No trial says how fast furniture warms or how many probes a room takes: the limits here are
judgement.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import pairwise

from spread.trade.credit import Credit, Doubt, coolest, counting, heat_credit
from spread.trade.holds import HEAT, HEAT_WORKING_MINUTES

Readings = Sequence[tuple[float, float]]

LONGEST_GAP = 15.0
"""Minutes between two readings of a probe beyond which nobody knows what was between them (judgement)."""
IN_A_ROW = 3
"""Readings in a row that a hold takes, also where the published row is of a moment: one may be a spark."""
FEWEST_READINGS = 8
"""A shorter log shows no warming up."""
HOTTEST_START, HOTTEST_ROOM = 40.0, 70.0
"""Degrees C: a home is cooler before it is heated, and its air is heated to about 57-63 C (135-145 F;
University of Minnesota, bedbugs.umn.edu, second-hand). A log in degrees F goes over both."""
RISE, STEP = 0.5, 2.0
"""Degrees C a minute, and degrees C at once, beyond which it was air, a hand or a fault (judgement: firms
quote 3-4 hours until furniture is warm, which is about 0.15 a minute)."""
RISE_MINUTES = 30.0
"""Minutes over which the rise is looked at as well."""
FLAT_MINUTES, FLAT_READINGS, FLAT_COARSE = 25.0, 8, 45.0
"""Minutes and readings of one and the same value after which a logger is taken to be stuck; the last stands
for one that is read seldom or shows half or whole degrees."""
ZIGZAG = 1.0
"""Degrees C up and down again from one reading to the next; often, it is a loose plug."""
LONGEST_JOB = 24 * 60.0
"""Minutes; a longer log has seconds in its column of minutes, or is of several jobs."""
COLDEST, HOTTEST = -60.0, 150.0
"""Degrees C that a probe in a room may show; others are a broken probe or the wrong scale."""
FIRST_ROOM, EACH_ROOM = 3, 2
"""Probes where bugs hide: bed, seating and the coldest corner of the first room, two in each further one
(judgement: no published number was found)."""

COARSE_STEP = 0.4
"""Degrees C between readings of a logger that shows half or whole degrees."""
ALIKE = 1e-6
"""Degrees C within which two probes that keep their distance are one and the same."""
AIR = (
    "air", "ambient", "ceiling", "supply", "return", "heater", "exhaust", "duct", "fan", "blower",
    "thermostat", "aire", "ambiente", "techo",
)  # fmt: skip
"""Words of places where air is measured and no bug hides."""

_AIR = re.compile(rf"(?<!\w)({'|'.join(AIR)})(?!\w)", re.IGNORECASE)


def probes_credit(probes: Mapping[str, Readings], stages: str = "all", *, rooms: int = 1) -> Credit:
    """Return whether a heat treatment is credited by the readings of its probes: the coldest decides.

    Parameters
    ----------
    probes
        Readings (minute, degrees C) by the place where each probe lay. Between two readings the cooler one
        counts, and a gap of more than :data:`LONGEST_GAP` minutes breaks a hold. A place in the air counts
        against a credit and never for one.
    stages
        As in :func:`spread.trade.credit.heat_credit`.
    rooms
        Rooms that were heated, for how many probes it takes.

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
        doubts = tuple(doubts_of(probes, stages, rooms=rooms))
        why = "doubtful" if doubts else "met"
        return replace(verdicts[coldest], why=why, probes=len(probes), doubts=doubts)
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


def probes_needed(rooms: int) -> int:
    """Return how many probes where bugs hide it takes."""
    return FIRST_ROOM + EACH_ROOM * (max(1, rooms) - 1)


def _probe_credit(readings: Readings, stages: str) -> Credit:
    if any(later <= earlier for (earlier, _), (later, _) in pairwise(readings)):
        raise ValueError("the readings of a probe must go forward in time")
    for row in counting(HEAT, stages):
        held = longest_hold(readings, row.celsius, least=IN_A_ROW)
        if held is not None and held >= row.minutes:
            return heat_credit(row.celsius, held, stages)
    lowest = coolest(stages)
    held = longest_hold(readings, lowest, least=IN_A_ROW)
    hottest = max(celsius for _, celsius in readings)
    if held is None:
        told = heat_credit(hottest, 0.0, stages)
        return replace(told, why="few-readings") if told.given else told
    return heat_credit(lowest, held, stages)


def longest_hold(readings: Readings, celsius: float, *, least: int = 1) -> float | None:
    """Return the longest unbroken time in minutes at or above a temperature; None if it was never held.

    Parameters
    ----------
    readings
        (minute, degrees C), in order of time.
    celsius
        Degrees C.
    least
        Readings in a row that make a hold.
    """
    longest: float | None = None
    began = last = 0.0
    count = 0
    for minute, degrees in readings:
        if degrees < celsius:
            count = 0
            continue
        if not count or minute - last > LONGEST_GAP:
            began, count = minute, 0
        last, count = minute, count + 1
        if count >= least:
            longest = max(longest or 0.0, minute - began)
    return longest


def doubts_of(probes: Mapping[str, Readings], stages: str = "all", *, rooms: int = 1) -> Iterator[Doubt]:
    """Yield everything for which a log that would be credited is not believed."""
    least = coolest(stages)
    # What was read after the last hot reading, as when windows are opened, credits nothing.
    hot = {name: _until_last(readings, least) for name, readings in probes.items()}
    first = min(readings[0][0] for readings in hot.values())
    for name, readings in hot.items():
        yield from _probe_doubts(name, readings)
        if readings[0][0] - first > LONGEST_GAP:
            yield Doubt("late", name, readings[0][0], readings[0][0] - first, LONGEST_GAP)
    names = list(hot)
    for i, name in enumerate(names):
        for other in names[i + 1 :]:
            if _moves_alike(hot[name], hot[other]):
                yield Doubt("same", name, other=other)
    placed, needed = sum(not in_the_air(name) for name in probes), probes_needed(rooms)
    if placed < needed:
        yield Doubt("few-probes", value=placed, limit=needed)


def in_the_air(place: str) -> bool:
    """Whether a place is named as one where air is measured and no bug hides."""
    return _AIR.search(place.replace("_", " ")) is not None


def _until_last(readings: Readings, celsius: float) -> Readings:
    last = max(
        (i for i, (_, degrees) in enumerate(readings) if degrees >= celsius), default=len(readings) - 1
    )
    return readings[: last + 1]


def _probe_doubts(name: str, readings: Readings) -> Iterator[Doubt]:
    """Yield what is odd about one probe; of each kind once, the first."""
    minute, start = readings[0]
    if len(readings) < FEWEST_READINGS:
        yield Doubt("few-readings", name, minute, len(readings), FEWEST_READINGS)
    if start > HOTTEST_START:
        yield Doubt("hot-start", name, minute, start, HOTTEST_START)
    hottest = max(readings, key=lambda reading: reading[1])
    if hottest[1] > HOTTEST_ROOM:
        yield Doubt("too-hot", name, *hottest, HOTTEST_ROOM)
    if (length := readings[-1][0] - minute) > LONGEST_JOB:
        yield Doubt("long", name, readings[-1][0], length, LONGEST_JOB)
    steps = [(b[0], b[0] - a[0], b[1] - a[1]) for a, b in pairwise(readings)]
    for at, minutes, _ in steps:
        if minutes > LONGEST_GAP:
            yield Doubt("gap", name, at, minutes, LONGEST_GAP)
            break
    for at, minutes, degrees in steps:
        if abs(degrees) > STEP + RISE * minutes:
            yield Doubt("jump", name, at, degrees, STEP + RISE * minutes)
            break
    yield from _fast(name, readings)
    yield from _flat(name, readings)
    turns = [
        i
        for i, (a, b) in enumerate(pairwise(steps))
        if a[2] * b[2] < 0 and min(abs(a[2]), abs(b[2])) >= ZIGZAG
    ]
    if len(turns) > max(2, len(steps) // 5):
        yield Doubt("zigzag", name, steps[turns[0]][0], len(turns), ZIGZAG)


def _fast(name: str, readings: Readings) -> Iterator[Doubt]:
    """Yield a rise over :data:`RISE_MINUTES` that no furniture makes."""
    before = 0
    for minute, degrees in readings:
        while (
            minute - readings[before][0] > RISE_MINUTES and readings[before + 1][0] <= minute - RISE_MINUTES
        ):
            before += 1
        began, start = readings[before]
        if degrees - start > STEP + RISE * (minute - began):
            yield Doubt("fast", name, minute, (degrees - start) / (minute - began), RISE)
            return


def _flat(name: str, readings: Readings) -> Iterator[Doubt]:
    """Yield a stretch of one and the same reading, as of a stuck logger."""
    moves = [abs(b[1] - a[1]) for a, b in pairwise(readings) if b[1] != a[1]]
    coarse = min(moves, default=0.0) >= COARSE_STEP
    (began, value), same = readings[0], 1
    for minute, degrees in readings[1:]:
        if degrees != value:
            began, value, same = minute, degrees, 1
            continue
        same += 1
        limit = FLAT_COARSE if coarse or same < FLAT_READINGS else FLAT_MINUTES
        if minute - began >= limit:
            yield Doubt("flat", name, began, minute - began, limit)
            return


def _moves_alike(one: Readings, other: Readings) -> bool:
    """Whether two probes differ by one and the same amount all along: a copy, or one probe on two lines."""
    at = dict(one)
    apart = [degrees - at[minute] for minute, degrees in other if minute in at]
    return len(apart) >= FEWEST_READINGS and max(apart) - min(apart) < ALIKE


def live_rules() -> dict[str, object]:
    """Return every number of this module, for a phone that judges a running job without a connection."""
    return {
        "rows": [[row.celsius, row.minutes] for row in counting(HEAT, "all")],
        "least": coolest("all"),
        "aim": HEAT_WORKING_MINUTES,
        "gap": LONGEST_GAP,
        "in_a_row": IN_A_ROW,
        "fewest": FEWEST_READINGS,
        "hottest_start": HOTTEST_START,
        "hottest_room": HOTTEST_ROOM,
        "rise": RISE,
        "step": STEP,
        "rise_minutes": RISE_MINUTES,
        "flat_minutes": FLAT_MINUTES,
        "flat_readings": FLAT_READINGS,
        "flat_coarse": FLAT_COARSE,
        "coarse_step": COARSE_STEP,
        "zigzag": ZIGZAG,
        "longest_job": LONGEST_JOB,
        "first_room": FIRST_ROOM,
        "each_room": EACH_ROOM,
        "alike": ALIKE,
        "air": AIR,
        "coldest": COLDEST,
        "hottest": HOTTEST,
    }

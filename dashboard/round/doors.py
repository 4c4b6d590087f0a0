"""The next doors as the phone holds them: the planned round, and the ranked doors after it.

The phone keeps :data:`KEPT` doors so that it can go on without a connection. A planned round may be
shorter than that; the doors after it are the ranked list, marked as beyond the planned time.
"""

from __future__ import annotations

import threading
from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

from dashboard.round.bring import bring
from dashboard.words import chance_class, chance_name, floor_name
from spread.contacts.distances import Distances, distances_of
from spread.decisions.doors.effort import Effort, effort_of
from spread.decisions.doors.ranking import DoorRow
from spread.decisions.round.asked import plan_asked_round
from spread.decisions.round.parts import KINDS, NINE, Barred, Position, Round, RoundSettings
from spread.errors import SettingsError
from spread.plan.access import Access, access_on
from spread.records.kinds import LOOKS
from spread.session import Session
from spread.trade.registry import LOOKING
from spread.words import ENGLISH, Voice, say
from spread.words.doors import access_words, reason_text, sure_words
from spread.words.refusals import refusal
from spread.words.relations import places
from spread.words.round import carry_words, no_door
from spread.words.terms import method_name
from spread.words.trust import warning_words

KEPT = 25
"""Doors that a phone keeps: more than a day's round of one technician."""
SHORTEST, USUAL, LONGEST = 15.0, 240.0, 720.0
"""Minutes of a round."""
EFFORT = 20
"""Rounds of the route search after each answer; a third of the command line's, to answer sooner."""
ORDERS = ("planned", "likeliest")
SHARES = (1.05, 1.2, 1.5)
"""Times the even share of the work that one of a crew may get, tried one after the other."""
Metres = float | None


@dataclass(frozen=True, slots=True)
class Wanted:
    """What a phone asked for; every part that was not understood is at its default.

    ``begins`` are minutes after midnight, ``elapsed`` minutes since then; ``at`` is the unit where
    the technician stands, or empty at the beginning. ``holds`` are doors that this phone has taken, ``taken``
    those that others have.
    """

    method: str
    minutes: float = USUAL
    begins: int = NINE
    elapsed: float = 0.0
    at: str = ""
    order: str = "planned"
    kinds: tuple[str, ...] = ("look",)
    skipped: frozenset[str] = frozenset()
    holds: frozenset[str] = frozenset()
    taken: frozenset[str] = frozenset()


def wanted_of(ask: object, session: Session) -> Wanted:
    """Return what the browser's words ask for; nothing of them is trusted."""
    given: Mapping[str, object] = ask if isinstance(ask, Mapping) else {}
    units = session.plan.units
    usual = session.method if session.method in LOOKS else LOOKS[0]
    method, at, order = (given.get(name) for name in ("method", "at", "order"))
    also, skipped = (given.get(name) for name in ("also", "skipped"))
    minutes = min(max(_number(given.get("minutes"), USUAL), SHORTEST), LONGEST)
    return Wanted(
        method=method if isinstance(method, str) and method in LOOKS else usual,
        minutes=minutes,
        begins=int(min(max(_number(given.get("begins"), NINE), 0), 24 * 60 - 1)),
        elapsed=float(round(min(max(_number(given.get("elapsed"), 0.0), 0.0), 24 * 60.0))),
        at=at if isinstance(at, str) and at in units else "",
        order=order if isinstance(order, str) and order in ORDERS else ORDERS[0],
        kinds=("look", *(kind for kind in KINDS[1:] if isinstance(also, list) and kind in also)),
        skipped=frozenset(unit for unit in skipped if isinstance(unit, str) and unit in units)
        if isinstance(skipped, list)
        else frozenset(),
    )


def _number(value: object, usual: float) -> float:
    if isinstance(value, bool) or not isinstance(value, (int, float)) or value != value:  # noqa: PLR0124
        return usual
    try:
        return float(value)
    except OverflowError:  # a whole number of hundreds of digits
        return usual


class DoorList:
    """Works out the next doors of a session; safe in several threads, and remembers its last answer."""

    def __init__(self, session: Session) -> None:
        self._session = session
        self._lock = threading.Lock()
        self._last: tuple[object, dict[str, Any]] | None = None

    @cached_property
    def distances(self) -> Distances:
        """Walks of the building, measured once."""
        return distances_of(self._session.plan)

    def next(
        self,
        ask: object,
        voice: Voice = ENGLISH,
        *,
        holds: Collection[str] = (),
        taken: Collection[str] = (),
    ) -> dict[str, Any]:
        """Return the next doors.

        Parameters
        ----------
        ask
            What the phone asks for; see :class:`Wanted`.
        voice
            Language and measure of whoever holds the phone.
        holds, taken
            Doors that this phone has taken, which alone are planned then; and doors that others have, which
            are left to them.

        Returns
        -------
        dict
            ``doors`` in order, ``walk`` (metres between them, and ``from_here`` from where the
            technician stands), ``finish`` (minutes from the round's beginning, of the planned ones),
            ``planned`` (how many of them are), and ``words`` for what kept the plan from being made.
        """
        wanted = replace(
            wanted_of(ask, self._session), holds=frozenset(holds), taken=frozenset(taken) - frozenset(holds)
        )
        with self._lock:
            key = (self._session.version, wanted, voice)
            if self._last is None or self._last[0] != key:
                self._last = (key, self._make(wanted, voice))
            return self._last[1]

    def part(self, ask: object, taken: Collection[str], crew: int) -> tuple[str, ...]:
        """Return the doors of one of ``crew`` people, in order, from those that nobody has taken.

        The doors of all are chosen and split by :func:`spread.decisions.round.asked.plan_asked_round`, in as
        little time each as does them all, so that nobody has them all where one could do them alone.
        """
        wanted = replace(wanted_of(ask, self._session), order="planned", taken=frozenset(taken))
        start = self.distances.usual_start
        here = Position(wanted.at or start, min(wanted.elapsed, wanted.minutes))
        crew_at = (here, *(Position(start, here.minute) for _ in range(crew - 1)))
        try:
            whole = self._round(wanted, crew_at)
            if crew > 1:
                spent = sum(path.finish - path.begins for path in whole.paths)
                for share in SHARES:
                    minutes = min(wanted.minutes, here.minute + share * spent / crew)
                    even = self._round(replace(wanted, minutes=minutes), crew_at)
                    if set(even.units) >= set(whole.units):
                        whole = even
                        break
        except SettingsError:  # such as an [[access]] of a unit that is gone: every phone says so by itself
            return ()
        mine = whole.paths[0] if whole.paths[0].stops else max(whole.paths, key=lambda path: len(path.stops))
        return tuple(stop.unit for stop in mine.stops)

    def door(self, unit: str, method: str, voice: Voice = ENGLISH) -> dict[str, Any]:
        """Return one door that the technician chose by its code."""
        row = next(row for row in self._session.doors(method) if row.unit == unit)
        effort = effort_of(self._session.view, method, self._session.building.settings.pace)
        return self._door(row, method, effort, voice, beyond=False)

    def _make(self, wanted: Wanted, voice: Voice) -> dict[str, Any]:
        session = self._session
        view, settings = session.view, session.building.settings
        rows = {row.unit: row for row in session.doors(wanted.method)}
        effort = effort_of(view, wanted.method, settings.pace)
        planned, words = self._planned(wanted, voice)
        order = list(planned.units) if planned else []
        done = wanted.skipped | wanted.taken | view.tried_today
        shut = self._shut(wanted)
        tail = [
            row
            for row in rows.values()
            if (row.status in wanted.kinds or row.unit in wanted.holds)
            and row.unit not in {*done, *order, *shut}
        ]
        if wanted.order == "likeliest":
            tail.sort(key=lambda row: -row.finds)
        tail.sort(key=lambda row: row.unit not in wanted.holds)
        after = [row.unit for row in tail[: max(KEPT - len(order), 0)]]
        units = [*order[:KEPT], *after]
        session.promise("phone", [rows[unit] for unit in units], wanted.method)
        stops = [stop for path in planned.paths for stop in path.stops] if planned else []
        access = {stop.unit: say(stop.access, voice) for stop in stops if stop.access}
        doors = [
            self._door(rows[unit], wanted.method, effort, voice, beyond=bool(planned) and unit not in order)
            | {"access": access.get(unit, "")}
            for unit in units
        ]
        return {
            "method": wanted.method,
            "method_words": method_name(wanted.method, voice),
            "alerts": LOOKING[wanted.method].usual_sign == "alert",
            "order": wanted.order,
            "minutes": wanted.minutes,
            "doors": doors,
            "planned": len(order[:KEPT]),
            "finish": round(planned.finish, 1) if planned and order else None,
            "words": words,
            "warnings": warning_words(session.warnings(), voice),
            "carry": carry_words(planned, voice) if planned else "",
            "shut": [[unit, say(mark, voice)] for unit, mark in shut.items()],
            "walk": self._walks(units, wanted.at),
        }

    def _planned(self, wanted: Wanted, voice: Voice) -> tuple[Round | None, str]:
        if wanted.order != "planned":
            return None, ""
        at = wanted.at or self.distances.usual_start
        try:
            planned = self._round(wanted, (Position(at, min(wanted.elapsed, wanted.minutes)),))
        except SettingsError as error:  # such as an [[access]] of a unit that is gone: go by rank, and say so
            return None, refusal(error, voice)
        return planned, no_door(planned, voice)

    def _round(self, wanted: Wanted, positions: tuple[Position, ...]) -> Round:
        """Return the round of so many people from where they stand."""
        session = self._session
        settings = session.building.settings
        return plan_asked_round(
            session.view,
            session.plan,
            self.distances,
            RoundSettings(
                minutes=wanted.minutes,
                technicians=len(positions),
                begins=wanted.begins,
                method=wanted.method,
                order=settings.order,
                pace=settings.pace,
                access=settings.access,
                barred=session.barred(),
                kinds=wanted.kinds,
                done=wanted.skipped | wanted.taken | self._left_alone(wanted),
                positions=positions,
                seed=session.view.posterior.seed,
                effort=EFFORT,
            ),
            session.open_looks(),
        )

    def _left_alone(self, wanted: Wanted) -> frozenset[str]:
        """Return the doors that a round does not plan because others are taken and not done yet."""
        return frozenset(self._session.plan.units) - wanted.holds if wanted.holds else frozenset()

    def _shut(self, wanted: Wanted) -> dict[str, Access | Barred]:
        """Return the units that nobody may enter today: of those that wait for notice, the ones asked for."""
        session = self._session
        status = session.view.followups
        barred: dict[str, Access | Barred] = {
            unit: one for unit, one in session.barred().items() if status[unit].status in wanted.kinds
        }
        try:
            marks = access_on(session.building.settings.access, self.distances.units, session.view.on)
        except SettingsError:
            return barred
        return barred | {unit: mark for unit, mark in marks.items() if not mark.windows}

    def _walks(self, units: list[str], at: str) -> dict[str, Any]:
        place = {unit: k for k, unit in enumerate(self.distances.units)}
        here = self.distances.from_start(at or self.distances.usual_start)
        return {
            "here": at or self.distances.usual_start,
            "from_here": [_metres(here[place[unit]]) for unit in units],
            "between": [[_metres(self.distances.metres[place[a], place[b]]) for b in units] for a in units],
        }

    def _door(
        self, row: DoorRow, method: str, effort: Effort, voice: Voice, *, beyond: bool
    ) -> dict[str, Any]:
        session = self._session
        plan = session.plan
        i = session.view.network.index[row.unit]
        floors = [door.floor for door in plan.doors if door.unit == row.unit]
        floor = floors[0] if floors else min(plan.units[row.unit].parts, key=plan.level_of)
        return {
            "unit": row.unit,
            "floor": floor_name(floor, voice),
            "level": plan.level_of(floor),
            "class": chance_class(row.chance),
            "percent": voice.percent(row.chance),
            "words": chance_name(row.chance, voice),
            "find": voice.percent(row.chance_of_find),
            "sure": sure_words(row.sure, voice),
            "why": reason_text(row.reasons, voice),
            "instead": say(row.instead, voice) if row.instead else "",
            "tried": access_words(row, voice),
            "asked": [
                words
                for words in (places(row.ring, voice), say(row.duty, voice) if row.duty else "")
                if words
            ],
            "status": row.status,
            "bring": bring(method, row.status, float(effort.opens[i]), voice),
            "opens": voice.percent(float(effort.opens[i])),
            "minutes": round(float(effort.longest[i])),
            "beyond": beyond,
        }


def _metres(metres: float) -> Metres:
    return None if metres == float("inf") else round(float(metres))

"""What a rule set asks for on a day: due, overdue or done, each with the record that proves it.

What proves a step, in the kinds of record that the log has:

- ``inspect``: an inspection or a monitor that ended on or after the day of the event. A resident's word
  (``interview``) is none. Where the rule takes service for it (``by_service``), a treatment too. A dog's
  look is one only where the rule set says so, or where bugs were seen at it.
- ``begin-treatment``: a treatment. ``engage-agent``: a treatment, or a note.
- ``contact``: a look or a treatment in the unit, or a note.
- What was said, sent or received is proven by a row of kind ``note`` on that unit with its method
  (:data:`spread.records.kinds.SAID`), such as ``result-notice``.

A find starts duties once per infestation: the finds of later visits, until two clear looks a fortnight apart,
belong to the same one. A neighbour that is found infested is a find of its own, so the duties move on to the
units around it. Rows that were superseded or withdrawn take their duties with them.
"""

from __future__ import annotations

import datetime as dt
from bisect import bisect_left
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import networkx as nx

from spread.contacts.relations import RingPlace, Way, ring_around, ways_between
from spread.decisions.duties.deadlines import IsHoliday, When, day_of, due_after, holidays_of, notice_before
from spread.decisions.standing import is_find, standing_of
from spread.facts import Fact
from spread.records.kinds import Record, said_by
from spread.records.log import Log
from spread.trade.registry import HEARSAY, UNCONFIRMED
from spread.trade.routes import TOUCHING
from spread.trade.rule_set import STEPS, Deadline, EntryNotice, Neighbours, RuleSet

WEEKS = 26
"""An event asks for its duties this long; older ones had theirs or missed them (judgement, no source)."""
STEP_OF = {
    "acknowledged": "acknowledge",
    "contact": "contact",
    "agent": "engage-agent",
    "written-report": "inspector-report",
    "result-notice": "result-notice",
}
"""Which step of a rule a note's method proves (:data:`spread.records.kinds.SAID`)."""
STATUSES = ("overdue", "due", "cannot", "done")

Place = Way | RingPlace  #: How a unit lies to another


@dataclass(frozen=True, slots=True)
class Started(Fact):
    """What started a duty: an event of :data:`spread.trade.rule_set.EVENTS` in a unit on a day."""

    event: str
    unit: str
    when: dt.date


@dataclass(frozen=True, slots=True)
class Duty(Fact):
    """One thing that a rule set asks for."""

    unit: str  #: Where
    deadline: Deadline  #: What the rule asks for
    due: When | None  #: The day, or the moment where the hour is known; None where the rule gives no date
    started: Started  #: What started it; ``because`` are the ids of all records that did, oldest first
    because: tuple[str, ...]
    #: How the unit lies to the unit of each event; empty for that unit itself
    places: tuple[tuple[Place, ...], ...]
    #: ``overdue``, ``due``, ``cannot`` (somebody tried and could not get in; it is still owed) or ``done``
    status: str
    late: bool  #: Whether its day went by before it was done
    proof: str  #: Id of the record that proves it, or empty
    attempts: tuple[str, ...]  #: Ids of the no-access records since the event, where it is not done
    #: Notice of entry that comes first; None where none or where it is done
    notice: EntryNotice | None = None
    notice_by: dt.date | None = None  #: Last day for that notice, or None
    notice_proof: str = ""  #: Id of the note that says notice was given, or empty

    @property
    def step(self) -> str:
        """One of :data:`spread.trade.rule_set.STEPS`."""
        return self.deadline.step

    @property
    def of(self) -> str:
        """Whether it is asked of the ``source`` or of its ``neighbours``."""
        return self.deadline.of


def duties(
    log: Log, graph: nx.MultiGraph, rules: RuleSet, on: dt.date, *, weeks: int = WEEKS
) -> tuple[Duty, ...]:
    """Return everything that a rule set asks for on a day.

    ``log``: all records; those after ``on`` are left out; ``graph``: contacts: neighbours come from it;
    ``weeks``: events older than this are left out. Raises SettingsError when the calendar of the rule set is
    not known.

    Returned: by status in the order of :data:`STATUSES`, then by date, then in plan order. Several events
    that ask the same of one unit, and are not met or met by the same record, are one duty with the earliest
    date.
    """
    if not rules.applies_to(graph.number_of_nodes(), storeys_of(graph)):
        return ()
    known = _Known(log, graph, rules, on)
    oldest = on - dt.timedelta(weeks=weeks)
    asked = tuple(dict.fromkeys(deadline.event for deadline in rules.deadlines))
    events = {unit: log.worked_out(unit, on, _all_events, asked, weeks, oldest) for unit in graph.nodes}
    found: dict[tuple[str, str, str], list[tuple[Record, Duty]]] = {}
    for deadline in rules.deadlines:
        for unit in graph.nodes:
            for event in events[unit][deadline.event]:
                for target, place in known.targets(deadline, unit).items():
                    duty = _duty(known, deadline, event, target, place)
                    found.setdefault((deadline.key, target, duty.proof), []).append((event, duty))
    return tuple(sorted((_merged(same) for same in found.values()), key=lambda d: _order(d, graph)))


def neighbours_of(graph: nx.MultiGraph, unit: str, around: Neighbours) -> dict[str, tuple[Place, ...]]:
    """Return the units that a rule means by the neighbours of ``unit``, and how each lies to it.

    None in a building with fewer units than the rule asks for.

    ``graph``: contacts of the building; ``around``: the rule's neighbours.
    """
    if graph.number_of_nodes() < around.least_units:
        return {}
    by_sides = around.set == "LRUD"
    ring = ring_around(graph, unit, rule="LRUD" if by_sides else "", across=around.across)
    found: dict[str, tuple[Place, ...]] = {other: (place,) for other, place in ring.items()}
    if by_sides:
        return found
    for other in graph.adj[unit]:
        ways = ways_between(graph, other, unit)
        touching = tuple(way for route, way in ways.items() if route in TOUCHING)
        if touching:
            found[other] = (*touching, *found.get(other, ()))
    return dict(sorted(found.items(), key=lambda item: graph.nodes[item[0]]["index"]))


def storeys_of(graph: nx.MultiGraph) -> int:
    """Return on how many floors a building has units."""
    return len({level for _, levels in graph.nodes(data="levels") for level in levels})


class _Known:
    """Records up to a day, neighbours and holidays, each looked up once."""

    def __init__(self, log: Log, graph: nx.MultiGraph, rules: RuleSet, on: dt.date) -> None:
        self.rules = rules
        self.on = on
        self.is_holiday: IsHoliday = holidays_of(rules.calendar)
        self._graph = graph
        self._log = log
        self._rings: dict[str, dict[str, tuple[Place, ...]]] = {}

    def rows(self, unit: str) -> tuple[Record, ...]:
        return self._log.of(unit, self.on)

    def since(self, unit: str, day: dt.date) -> tuple[Record, ...]:
        rows = self.rows(unit)
        return rows[bisect_left(rows, day, key=lambda row: row.when) :]

    def targets(self, deadline: Deadline, unit: str) -> Mapping[str, tuple[Place, ...]]:
        if deadline.of == "source":
            return {unit: ()}
        if unit not in self._rings:
            around = self.rules.neighbours
            self._rings[unit] = neighbours_of(self._graph, unit, around) if around else {}
        return self._rings[unit]


def _all_events(
    rows: Sequence[Record], asked: Sequence[str], weeks: int, oldest: dt.date
) -> Mapping[str, list[Record]]:
    """Return the records of a unit that start duties from a day on, by event."""
    return {event: _events(rows, event, weeks, oldest) for event in asked}


def _events(rows: Sequence[Record], event: str, weeks: int, oldest: dt.date) -> list[Record]:
    """Return the records of a unit, sorted by day, that start duties from a day on; at most one a day.

    Older ones are gone through back to a gap so wide that what was before it no longer tells.
    """
    events = [row for row in rows if _is_event(row, event)]
    begin = bisect_left(events, oldest, key=lambda row: row.when)
    while begin and begin < len(events) and not _gap(events, begin, weeks):
        begin -= 1
    chosen: list[Record] = []
    for row in events[begin:]:
        if chosen and chosen[-1].when == row.when:
            continue
        if event in ("find", "confirmed-find") and chosen:
            recent = row.when - chosen[-1].when <= dt.timedelta(weeks=weeks)
            if recent and _known_infested(rows, row.when):
                continue
        chosen.append(row)
    return [row for row in chosen if row.when >= oldest]


def _gap(events: Sequence[Record], place: int, weeks: int) -> bool:
    """Return whether an event lies further behind the one before it than so many weeks."""
    return events[place].when - events[place - 1].when > dt.timedelta(weeks=weeks)


def _is_event(row: Record, event: str) -> bool:
    if event == "report":
        return row.is_complaint
    if event == "order":
        return said_by(row) == "order"
    looked = row.is_look and row.method not in HEARSAY
    if event == "inspection":
        return looked
    return is_find(row) if event == "confirmed-find" else looked and row.found == "yes"


def _known_infested(rows: Sequence[Record], before: dt.date) -> bool:
    standing = standing_of(rows, before - dt.timedelta(days=1))
    return standing.last_find is not None and standing.status != "look"


def _proves(row: Record, deadline: Deadline, rules: RuleSet) -> bool:
    step = deadline.step
    if STEP_OF.get(said_by(row)) == step:
        return True
    treated = row.kind == "treatment"
    if treated and deadline.by_service:
        return True
    if step in ("begin-treatment", "engage-agent"):
        return treated
    if step not in ("inspect", "contact"):
        return False
    dog_alone = row.method in UNCONFIRMED and not rules.dogs_count and not is_find(row)
    looked = row.is_look and row.method not in HEARSAY and not (dog_alone and step == "inspect")
    return looked or (treated and step == "contact")


def _duty(known: _Known, deadline: Deadline, event: Record, unit: str, place: tuple[Place, ...]) -> Duty:
    rows = known.since(unit, event.when)
    proof = next((row for row in rows if _proves(row, deadline, known.rules)), None)
    due: When | None = None
    if deadline.within is not None:
        due = due_after(event.when, deadline.within, known.is_holiday)
    elif deadline.with_treatment:
        source = known.since(event.unit, event.when)
        due = next((row.when for row in source if row.kind == "treatment"), None)
    shut: tuple[str, ...] = ()
    if proof is None and deadline.step in ("contact", "inspect", "begin-treatment"):
        shut = tuple(row.id for row in rows if row.kind == "no-access")
    late = due is not None and (proof.when if proof else known.on) > day_of(due)
    duty = Duty(
        unit=unit,
        deadline=deadline,
        due=due,
        started=Started(deadline.event, event.unit, event.when),
        because=(event.id,),
        places=(place,) if place else (),
        status="done" if proof else "cannot" if shut else "overdue" if late else "due",
        late=late,
        proof=proof.id if proof else "",
        attempts=shut,
    )
    entry = notice_for(known.rules.notices, deadline.step, deadline.of)
    if proof is not None or entry is None:
        return duty
    given = next((row.id for row in rows if said_by(row) == "entry-notice"), "")
    return replace(
        duty,
        notice=entry,
        notice_by=notice_before(due, entry.lead, known.is_holiday) if due else None,
        notice_proof=given,
    )


def notice_for(notices: Iterable[EntryNotice], step: str, of: str) -> EntryNotice | None:
    """Return the notice of entry that a step asks for: one for just these units before one for all.

    ``step``: a word of :data:`spread.trade.rule_set.STEPS`; ``of``: ``source`` or ``neighbours``.
    """
    fitting = [n for n in notices if step in n.before and n.of in (of, "all")]
    return min(fitting, key=lambda n: n.of == "all", default=None)


def _merged(same: Sequence[tuple[Record, Duty]]) -> Duty:
    """Join the duties of several events: the earliest date counts, and every event is named."""
    by_event = sorted(same, key=lambda pair: (pair[0].when, pair[0].id))
    first = min((duty for _, duty in by_event), key=lambda duty: _day(duty.due))
    attempts = dict.fromkeys(id_ for _, duty in by_event for id_ in duty.attempts)
    notices = [duty.notice_proof for _, duty in by_event if duty.notice_proof]
    return replace(
        first,
        because=tuple(dict.fromkeys(event.id for event, _ in by_event)),
        places=tuple(dict.fromkeys(place for _, duty in by_event for place in duty.places)),
        attempts=tuple(attempts),
        status="cannot" if attempts and not first.proof else first.status,
        notice_proof=notices[-1] if notices else "",
    )


def _day(due: When | None) -> dt.date:
    return dt.date.max if due is None else day_of(due)


def _order(duty: Duty, graph: nx.MultiGraph) -> tuple[int, dt.date, int, int, str]:
    steps = list(STEPS)
    index = int(graph.nodes[duty.unit]["index"])
    return (
        STATUSES.index(duty.status),
        _day(duty.due),
        index,
        steps.index(duty.step),
        f"{duty.of}{duty.because}",
    )

"""What a record is: one thing that happened to one unit on one day."""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import dataclass, field

from spread.trade import registry

FIELDS = (
    "id", "when", "unit", "kind", "method", "found", "level", "count", "evidence", "days", "by", "note",
    "supersedes",
)  # fmt: skip
"""Columns that every ``records.csv`` has, in order."""
EXTRA_FIELDS = ("items", "job")
"""Columns that a ``records.csv`` has once a row needs them; a log without them is whole."""
ALL_FIELDS = (*FIELDS, *EXTRA_FIELDS)  #: Everything that a row can say, by field

KINDS = ("report", "inspection", "monitor", "treatment", "no-access", "turnover", "note")
FOUND = ("yes", "no", "unsure")
LEVELS = ("trace", "low", "moderate", "heavy")
EVIDENCE = ("live", "eggs", "skins", "stains", "dead", "alert", "bites")
STAGES = ("eggs", "nymphs", "adults", "mixed")  #: Stages of the bugs at one item of the room
STATES = ("intact", "torn", "missing", "displaced")
"""State of an item that protects or catches: an encasement, a trap."""

LOOKS = tuple(registry.LOOKS)  #: Methods of an inspection
MONITORS = tuple(registry.MONITORS)  #: Methods of a monitor period
TREATMENTS = tuple(registry.TREATMENTS)  #: Methods of a treatment
TURNOVERS = ("moved-out", "moved-in")
"""Methods of a turnover; left empty, somebody moved out and somebody moved in that day.
A unit stands empty from a ``moved-out`` to the next ``moved-in``."""
FROM_A_LIST = "unit-list"
"""What a turnover is recorded ``by`` where it was read from a list of units, which may be years older than
the log: such a row does not say that complaints were being written down by then."""
REFUSALS = ("nobody-home", "refused")  #: Methods of a no-access record (may be empty)

SAID = ("acknowledged", "contact", "agent", "written-report", "entry-notice", "result-notice", "order")
"""Methods of a note, each something that was said, sent or received: a report acknowledged, the resident
talked to, a firm engaged, the inspector's written report, notice of entry or of a result, an order."""
TRAP_STEPS = ("traps-set", "traps-taken-up")
"""Methods of a note about traps, each an item with its place: ``interceptors: nothing, at bed 1 leg 2``."""
_PREFIXES = dict(zip(("ack", "contact", "agent", "written", "notice", "result", "order"), SAID, strict=True))
"""What old logs begin a note with in place of its method, as in ``notice: letter handed over``."""
_PREFIX = re.compile(r"\s*([A-Za-z]+)\s*:")

PREPARED = ("yes", "partly", "no")  #: Whether a home was prepared for its treatment
PETS = ("none", "away", "present")  #: Whether animals were met
OPENED = ("resident", "staff", "key")  #: Who let in: a resident, staff of the building, or the firm's own key

METHODS_OF = {
    "report": (),
    "inspection": LOOKS,
    "monitor": MONITORS,
    "treatment": TREATMENTS,
    "no-access": REFUSALS,
    "turnover": TURNOVERS,
    "note": (*SAID, *TRAP_STEPS),
}
"""Which methods each kind takes. Inspections, monitors and treatments must name one."""


@dataclass(frozen=True, slots=True)
class Finding:
    """What was seen at one item of the room."""

    item: str  #: Code of a row of the room sheet, such as ``headboard``
    #: Any of :data:`EVIDENCE`; empty where the item was looked at and nothing was seen
    evidence: frozenset[str] = frozenset()
    stage: str = ""  #: One of :data:`STAGES`, or empty
    count: int | None = None  #: Bugs counted there (eggs, where the stage is eggs), or None
    metres: float | None = None  #: Distance from the bed, to the centimetre, or None
    photo: str = ""  #: A file of the building's folder: a relative path, never an address
    state: str = ""  #: One of :data:`STATES`, or empty
    place: str = ""  #: Which sleeping place or room, in words such as ``bed 1``; never a person


@dataclass(frozen=True, slots=True)
class Done:
    """One step of the plan: an item of the room sheet, and at which sleeping place."""

    item: str  #: Code of a row of the room sheet
    place: str = ""  #: In words such as ``bed 1``; empty for the home


@dataclass(frozen=True, slots=True)
class Product:
    """What was used, by the words of its label; never how much."""

    name: str
    registration: str = ""  #: The number under which it is registered, as the label has it


@dataclass(frozen=True, slots=True)
class Probe:
    """The readings of one temperature probe of a heat treatment."""

    place: str  #: Where it lay, in words such as ``Mattress``
    readings: tuple[tuple[float, float], ...]  #: Minute and degrees C, in order of time


@dataclass(frozen=True, slots=True)
class Job:
    """What was done at one treatment; of a notice of entry, which visit it announces."""

    done: tuple[Done, ...] = ()  #: Steps that were ticked
    left: tuple[Done, ...] = ()  #: Steps of the plan that were not
    prepared: str = ""  #: One of :data:`PREPARED`, or empty where nobody said
    pets: str = ""  #: One of :data:`PETS`, or empty
    window: str = ""  #: The hours that were promised, as ``09:00-12:00``
    opened: str = ""  #: One of :data:`OPENED`, or empty
    products: tuple[Product, ...] = ()
    #: signature, code: That somebody let in, with ``opened`` for who: a photograph of what was drawn, by its
    #: name, or a code that was given; never a name of anybody
    signature: str = ""
    code: str = ""
    celsius: float | None = None  #: Warmth of the rooms when nothing heats them for a treatment, if measured
    rooms: int | None = None  #: Rooms that were heated, of a heat treatment
    heat: tuple[Probe, ...] = ()  #: What the probes of a heat treatment read
    day: dt.date | None = None  #: Of a notice of entry alone: the day that it names


@dataclass(frozen=True, slots=True)
class Record:
    """One row of the log."""

    id: str  #: Unique in the building. A row that arrives twice with one id is one record.
    when: dt.date  #: The day it happened; for a monitor the day the period ended
    unit: str  #: Unit code, as in the plan
    #: kind, method, found, level: Words of this module; empty where they do not apply
    kind: str
    method: str = ""
    found: str = ""
    level: str = ""
    count: int | None = None  #: Bugs counted, or None
    evidence: frozenset[str] = field(default_factory=frozenset)  #: Any of :data:`EVIDENCE`
    days: int | None = None  #: Length in days of a monitor period that ended on ``when``, or None
    by: str = ""  #: A role or crew code of who did it; never a resident
    note: str = ""  #: Free words
    #: The id of the row that this one corrects, or empty. A row superseded by a ``note`` is withdrawn.
    supersedes: str = ""
    #: What was seen item by item; empty where nobody wrote it down so finely. Of a treatment how things were
    #: left: states without signs, counts or stages.
    items: tuple[Finding, ...] = ()
    job: Job | None = None  #: What was done at a treatment; None where nobody wrote it down
    #: The code under which it was recorded, where that home was of another extent than :attr:`unit` is today:
    #: it clears nothing. No column of a log: it follows from the plan (:mod:`spread.records.following`).
    was: str = ""
    rests: bool = False  #: Of a clean look of a part of the unit: whether it says nothing of the whole

    @property
    def is_look(self) -> bool:
        """Whether it says something was looked for: an inspection or a monitor period."""
        return self.kind in ("inspection", "monitor")

    @property
    def is_complaint(self) -> bool:
        """Whether somebody reported bugs; a report that nothing was seen is not one."""
        return self.kind == "report" and self.found != "no"

    @property
    def began(self) -> dt.date:
        """The day it began: for a monitor with a stated period that many days before ``when``."""
        return self.when - dt.timedelta(days=self.days or 0)


def said_by(record: Record) -> str:
    """Return what a note says was said or sent (one of :data:`SAID`), or an empty text.

    The method says it; in an old log the note begins with a word and a colon, such as ``ack:``.
    """
    if record.kind != "note" or record.method:
        return record.method if record.method in SAID else ""
    match = _PREFIX.match(record.note)
    return _PREFIXES.get(match[1].lower(), "") if match else ""

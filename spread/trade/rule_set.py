"""What a rule set holds: what an authority or a trade practice asks for after a report or a find.

Every field carries its source, how that source was read, and how far to trust it. A rule set is a
reading aid: the text of the law may differ, may have changed, and is not explained here.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass, replace

ALWAYS_SAY = (
    "Check your local code: the text may have changed, this reading of it may be wrong or lack something, "
    "and it is not legal advice."
)
NOT_ADVICE = "Check your local code; not legal advice."
READ = ("read", "read second-hand", "from memory", "judgement")
"""How a field came to us: read in the source itself, in a page about it, remembered, or judged."""
CONFIDENCES = ("A", "B", "C")
COUNTED_IN = ("hours", "calendar days", "business days")
EVENTS = ("report", "find", "confirmed-find", "inspection", "order")
"""What a deadline counts from. A *find* is any look that says yes, a dog's alert too; a *confirmed find* has
signs of bugs seen or caught; an *inspection* is any look but an interview; an *order* is a note that begins
with ``order:``."""
STEPS = {
    "acknowledge": "acknowledge the report",
    "contact": "contact the resident",
    "inspect": "inspect",
    "engage-agent": "engage a licensed or certified agent",
    "begin-treatment": "begin treatment",
    "inspector-report": "have the inspector's written report",
    "result-notice": "give the resident the result in writing",
}
"""What may be asked for, each with words that follow "must"."""
NEIGHBOUR_SETS = ("LRUD", "CONTIGUOUS")
"""``LRUD``: beside, above and below. ``CONTIGUOUS``: any shared wall, floor or ceiling, part of one too."""


@dataclass(frozen=True, slots=True)
class Origin:
    """Where a field comes from: a citation, one of :data:`READ`, one of :data:`CONFIDENCES`."""

    source: str  #: Where it stands
    read: str  #: One of :data:`READ`: how it was read
    confidence: str  #: One of :data:`CONFIDENCES`


@dataclass(frozen=True, slots=True)
class Span:
    """A length of time as a rule counts it; ``counted_in`` is one of :data:`COUNTED_IN`."""

    amount: int  #: How many
    counted_in: str  #: One of :data:`COUNTED_IN`


@dataclass(frozen=True, slots=True)
class Deadline:
    """One step that a rule asks for."""

    step: str  #: One of :data:`STEPS`
    of: str  #: ``source`` (the unit of the event) or ``neighbours`` (the units around it)
    event: str  #: One of :data:`EVENTS` that it counts from
    origin: Origin  #: Where it comes from
    within: Span | None = None  #: Time from the event, or None where the rule gives no number
    with_treatment: bool = False  #: Due before or with the first treatment of the source unit after the event
    words: str = ""  #: The rule's own words about time, where it has no number
    who: str = ""  #: Who has to do it; may be empty
    #: Whether a treatment of the unit itself meets the step, because the rule leaves the choice between
    #: looking at it and taking it into the service
    by_service: bool = False

    @property
    def key(self) -> str:
        """A name that tells it from the other deadlines of its rule set."""
        return f"{self.step}/{self.of}/{self.event}"


@dataclass(frozen=True, slots=True)
class EntryNotice:
    """Notice that residents get before somebody enters, for steps of ``before``.

    ``of`` is ``source``, ``neighbours`` or ``all``.
    """

    before: tuple[str, ...]  #: Steps that it comes before
    lead: Span  #: Least time ahead
    origin: Origin  #: Where it stands
    of: str = "all"  #: Whose residents: ``source``, ``neighbours`` or ``all``


@dataclass(frozen=True, slots=True)
class Keep:
    """Records to keep, and for how many years (None where no number is known)."""

    what: str  #: The records, in words
    origin: Origin  #: Where it stands
    years: int | None = None  #: For how many years, or None where no number is known


@dataclass(frozen=True, slots=True)
class Neighbours:
    """Which units around another a rule means."""

    set: str  #: One of :data:`NEIGHBOUR_SETS`
    origin: Origin  #: Where it comes from
    across: bool = False  #: Whether the door facing across the hallway belongs to them
    least_units: int = 1  #: Buildings with fewer units are not asked for neighbours


@dataclass(frozen=True, slots=True)
class Calendar:
    """Which days are no business days: public holidays of a country, and days that somebody wrote down."""

    country: str = ""  #: ISO 3166-1 code, or empty
    subdivision: str = ""  #: ISO 3166-2 code without the country, or empty
    days: tuple[dt.date, ...] = ()  #: Days off by their date


@dataclass(frozen=True, slots=True)
class Applies:
    """The smallest building that a rule is for."""

    #: least_units, least_storeys: Smallest numbers of units and storeys
    least_units: int
    least_storeys: int
    origin: Origin  #: Where it stands


@dataclass(frozen=True, slots=True)
class RuleSet:
    """The rules of one authority."""

    #: id, title, authority, place, text, text_date: What it is, whose, where, which text, and of what date
    id: str
    title: str
    authority: str
    place: str
    text: str
    text_date: str
    #: deadlines, notices, keep: What it asks for
    deadlines: tuple[Deadline, ...] = ()
    notices: tuple[EntryNotice, ...] = ()
    keep: tuple[Keep, ...] = ()
    neighbours: Neighbours | None = None  #: Which units around another it means, or None where it names none
    applies: Applies | None = None  #: The smallest building it is for, or None
    #: Where it says so, whether a dog team's look counts as an inspection, with its origin; a look by a dog
    #: never counts otherwise
    dogs: tuple[bool, Origin] | None = None
    calendar: Calendar | None = None  #: Holidays for business days; None counts Monday to Friday
    notes: tuple[str, ...] = ()  #: What a reader should know besides
    #: Fields of the authority that are not here because too little is known of them
    left_out: tuple[str, ...] = ()

    @property
    def triggers(self) -> tuple[str, ...]:
        """The events that any of its deadlines counts from, in the order of :data:`EVENTS`."""
        used = {deadline.event for deadline in self.deadlines}
        return tuple(event for event in EVENTS if event in used)

    @property
    def dogs_count(self) -> bool:
        """Whether a dog team's look proves an inspection."""
        return self.dogs is not None and self.dogs[0]

    def applies_to(self, units: int, storeys: int) -> bool:
        """Whether it is for a building of so many units and storeys."""
        return self.applies is None or (
            units >= self.applies.least_units and storeys >= self.applies.least_storeys
        )

    def off_on(self, days: Iterable[dt.date]) -> RuleSet:
        """Return these rules with more days that are no business days."""
        known = self.calendar or Calendar()
        every = tuple(sorted({*known.days, *days}))
        return self if every == known.days else replace(self, calendar=replace(known, days=every))

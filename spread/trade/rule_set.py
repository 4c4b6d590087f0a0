"""What a rule set holds: what an authority or a trade practice asks for after a report or a find.

Every field carries its source, how that source was read, and how far to trust it. A rule set is a
reading aid: the text of the law may differ, may have changed, and is not explained here.
"""

from __future__ import annotations

from dataclasses import dataclass

ALWAYS_SAY = (
    "Check your local code: the text may have changed, this reading of it may be wrong or lack something, "
    "and it is not legal advice."
)
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
    """Where a field comes from: a citation, one of :data:`READ`, one of :data:`CONFIDENCES`.

    Parameters
    ----------
    source
        Where it stands.
    read
        One of :data:`READ`: how it was read.
    confidence
        One of :data:`CONFIDENCES`.
    """

    source: str
    read: str
    confidence: str


@dataclass(frozen=True, slots=True)
class Span:
    """A length of time as a rule counts it; ``counted_in`` is one of :data:`COUNTED_IN`.

    Parameters
    ----------
    amount
        How many.
    counted_in
        One of :data:`COUNTED_IN`.
    """

    amount: int
    counted_in: str


@dataclass(frozen=True, slots=True)
class Deadline:
    """One step that a rule asks for.

    Parameters
    ----------
    step
        One of :data:`STEPS`.
    of
        ``source`` (the unit of the event) or ``neighbours`` (the units around it).
    event
        One of :data:`EVENTS` that it counts from.
    origin
        Where it comes from.
    within
        Time from the event, or None where the rule gives no number.
    with_treatment
        Due before or with the first treatment of the source unit after the event.
    words
        The rule's own words about time, where it has no number.
    who
        Who has to do it; may be empty.
    by_service
        Whether a treatment of the unit itself meets the step, because the rule leaves the choice between
        looking at it and taking it into the service.
    """

    step: str
    of: str
    event: str
    origin: Origin
    within: Span | None = None
    with_treatment: bool = False
    words: str = ""
    who: str = ""
    by_service: bool = False

    @property
    def key(self) -> str:
        """A name that tells it from the other deadlines of its rule set."""
        return f"{self.step}/{self.of}/{self.event}"


@dataclass(frozen=True, slots=True)
class EntryNotice:
    """Notice that residents get before somebody enters, for steps of ``before``.

    ``of`` is ``source``, ``neighbours`` or ``all``.

    Parameters
    ----------
    before
        Steps that it comes before.
    lead
        Least time ahead.
    origin
        Where it stands.
    of
        Whose residents: ``source``, ``neighbours`` or ``all``.
    """

    before: tuple[str, ...]
    lead: Span
    origin: Origin
    of: str = "all"


@dataclass(frozen=True, slots=True)
class Keep:
    """Records to keep, and for how many years (None where no number is known).

    Parameters
    ----------
    what
        The records, in words.
    origin
        Where it stands.
    years
        For how many years, or None where no number is known.
    """

    what: str
    origin: Origin
    years: int | None = None


@dataclass(frozen=True, slots=True)
class Neighbours:
    """Which units around another a rule means.

    Parameters
    ----------
    set
        One of :data:`NEIGHBOUR_SETS`.
    origin
        Where it comes from.
    across
        Whether the door facing across the hallway belongs to them.
    least_units
        Buildings with fewer units are not asked for neighbours.
    """

    set: str
    origin: Origin
    across: bool = False
    least_units: int = 1


@dataclass(frozen=True, slots=True)
class Calendar:
    """Whose public holidays are no business days: ISO country and subdivision (may be empty).

    Parameters
    ----------
    country
        ISO 3166-1 code.
    subdivision
        ISO 3166-2 code without the country, or empty.
    """

    country: str
    subdivision: str = ""


@dataclass(frozen=True, slots=True)
class Applies:
    """The smallest building that a rule is for.

    Parameters
    ----------
    least_units, least_storeys
        Smallest numbers of units and storeys.
    origin
        Where it stands.
    """

    least_units: int
    least_storeys: int
    origin: Origin


@dataclass(frozen=True, slots=True)
class RuleSet:
    """The rules of one authority.

    Parameters
    ----------
    id, title, authority, place, text, text_date
        What it is, whose, where, which text, and of what date.
    deadlines, notices, keep
        What it asks for.
    neighbours
        Which units around another it means, or None where it names none.
    applies
        The smallest building it is for, or None.
    dogs
        Where it says so, whether a dog team's look counts as an inspection, with its origin; a look by a dog
        never counts otherwise.
    calendar
        Holidays for business days; None counts Monday to Friday.
    notes
        What a reader should know besides.
    left_out
        Fields of the authority that are not here because too little is known of them.
    """

    id: str
    title: str
    authority: str
    place: str
    text: str
    text_date: str
    deadlines: tuple[Deadline, ...] = ()
    notices: tuple[EntryNotice, ...] = ()
    keep: tuple[Keep, ...] = ()
    neighbours: Neighbours | None = None
    applies: Applies | None = None
    dogs: tuple[bool, Origin] | None = None
    calendar: Calendar | None = None
    notes: tuple[str, ...] = ()
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

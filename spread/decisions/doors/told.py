"""What speaks for a unit being infested, as facts; ``spread/words/reasons.py`` says them."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Literal

from spread.contacts.relations import Way
from spread.facts import Fact

Sure = Literal["unsettled", "find", "treated", "looked", "little", "report", "neighbours", "nothing"]
"""What a chance rests on; see :func:`spread.decisions.doors.reasons.how_sure`."""
Attributed = Literal["came-from", "bears-on"]
"""Where the infestation came from, given that there is one; or what bears on a unit either way."""


@dataclass(frozen=True, slots=True)
class Found(Fact):
    """Bugs were found in the unit so many days ago; the level may be empty."""

    days: int
    level: str
    method: str
    signs: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Untreated(Fact):
    """Nobody has treated since what was found."""


@dataclass(frozen=True, slots=True)
class Treated(Fact):
    """The unit was treated, on the day of the find or so many days ago; looks since that found nothing."""

    days: int
    method: str
    same_day: bool
    clear_looks: int


@dataclass(frozen=True, slots=True)
class Reported(Fact):
    """Bugs were reported from the unit; ``unseen``: nobody has looked since."""

    days: int
    unseen: bool


@dataclass(frozen=True, slots=True)
class Alerted(Fact):
    """The last look came upon signs that confirm nothing."""

    days: int
    method: str
    signs: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class FoundBefore(Fact):
    """The unit had an infestation and has come back to the doors to look at."""

    days: int
    level: str
    clear_looks: int


@dataclass(frozen=True, slots=True)
class TreatedBefore(Fact):
    """The unit was treated, nothing found before, and has come back to the doors to look at."""

    days: int
    clear_looks: int


@dataclass(frozen=True, slots=True)
class FoundThere(Fact):
    """A contact's infestation."""

    #: days, level: The find that tells most of it: the last one where it is not treated, else the heaviest of
    #: it
    days: int
    level: str
    again_days: int | None  #: Its last find where that is another one; else None
    #: treatments, treated_days: How often it was treated since, and days since the last time; None for never
    treatments: int
    treated_days: int | None
    same_day: bool  #: Whether the only treatment was on the day of the find
    clear_looks: int  #: Looks since then that found nothing, a fortnight apart
    #: That it is infested today, where it has come back to the doors to look at; else None
    chance: float | None


@dataclass(frozen=True, slots=True)
class TreatedThere(Fact):
    """A contact was treated; nothing is on record as found there."""

    days: int
    clear_looks: int


@dataclass(frozen=True, slots=True)
class ReportedThere(Fact):
    """Bugs were reported from a contact that nobody has found infested."""

    days: int
    chance: float


@dataclass(frozen=True, slots=True)
class AlertedThere(Fact):
    """The last look at a contact gave what has yet to be confirmed, such as a dog's alert."""

    days: int
    method: str
    chance: float


@dataclass(frozen=True, slots=True)
class SuspectedThere(Fact):
    """A contact of which the records say little: its last look, if any, and what it said."""

    chance: float
    looked_days: int | None
    found: str


Story = FoundThere | TreatedThere | ReportedThere | AlertedThere | SuspectedThere


@dataclass(frozen=True, slots=True)
class FromContact(Fact):
    """A contact that weighs much among where a unit's bugs come from."""

    unit: str  #: The contact
    way: Way  #: How the unit lies to it, by the weightiest of its routes
    share: float  #: Its share of the attribution, 0 to 1
    of: Attributed  #: Which attribution that is
    story: Story  #: What is known of it


@dataclass(frozen=True, slots=True)
class Elsewhere(Fact):
    """What weighs most is no contact."""

    route: str  #: ``brought in``, ``moved in``, ``building-wide``, ``shared room`` or ``before``
    share: float  #: Its share of the attribution, 0 to 1
    of: Attributed  #: Which attribution that is
    alone: bool  #: Whether no contact is named beside it
    since: dt.date | None  #: The window's first day for ``before``, else None


@dataclass(frozen=True, slots=True)
class ManySides(Fact):
    """No contact has a fifth of the attribution, and nothing else weighs more than they do."""

    largest: float
    of: Attributed
    together: float = 0.0  #: The share of all contacts
    units: tuple[str, ...] = ()  #: Those that carry most of it, most first


@dataclass(frozen=True, slots=True)
class NoContacts(Fact):
    """The plan shows no contact with another unit."""


@dataclass(frozen=True, slots=True)
class LastLook(Fact):
    """The last look, which found nothing or could not tell.

    ``misses`` is the chance that such a look misses a low infestation; None where it could not tell.
    """

    days: int
    method: str
    misses: float | None


@dataclass(frozen=True, slots=True)
class NoLook(Fact):
    """No look at the unit is on record."""


@dataclass(frozen=True, slots=True)
class NoAccess(Fact):
    """Nobody got in the last so many times."""

    times: int


@dataclass(frozen=True, slots=True)
class StandsEmpty(Fact):
    """Nobody lives there, which clears nothing."""


@dataclass(frozen=True, slots=True)
class MovedIn(Fact):
    """Somebody moved in so many days ago."""

    days: int

"""The parts of a round: what is asked for, and the stops, paths and whole that come back."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Mapping
from dataclasses import dataclass, field

from spread.contacts.relations import RingPlace
from spread.decisions.case.visits import Visit
from spread.decisions.doors.ranking import DoorDuty
from spread.facts import Fact
from spread.plan.access import Access, AccessRule
from spread.trade.pace import Pace

NINE = 9 * 60
KINDS = ("look", "treat", "revisit")


@dataclass(frozen=True, slots=True)
class AskedFor(Fact):
    """A door goes in first because somebody asked for it."""


@dataclass(frozen=True, slots=True)
class ForDuty(Fact):
    """A door goes in first because a rule set asks for a look."""

    duty: DoorDuty


@dataclass(frozen=True, slots=True)
class ForRing(Fact):
    """A door goes in first because the rings of finds ask for it."""

    places: tuple[RingPlace, ...]


@dataclass(frozen=True, slots=True)
class ForRevisit(Fact):
    """A door goes in first because its revisit is late or due on the day."""

    visit: Visit
    on: dt.date


@dataclass(frozen=True, slots=True)
class ForTreatment(Fact):
    """A unit that was found infested and is to be treated."""

    visit: Visit
    on: dt.date


Must = AskedFor | ForDuty | ForRing | ForRevisit | ForTreatment


@dataclass(frozen=True, slots=True)
class NoTime(Fact):
    """A door that had to go in does not fit into the time."""

    must: Must


@dataclass(frozen=True, slots=True)
class GaveWay(Fact):
    """A door that is asked for gave way to the duties and to doors worth more."""

    must: Must


@dataclass(frozen=True, slots=True)
class AllShut(Fact):
    """No door can be entered today: every one of so many is shut by the house's own ``[[access]]``."""

    doors: int


@dataclass(frozen=True, slots=True)
class AllBarred(Fact):
    """No door may be entered today: so many wait for their notice of entry, or for an arrangement."""

    doors: int


@dataclass(frozen=True, slots=True)
class NothingLeft(Fact):
    """There is no door of these standings that was not done today."""

    kinds: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class TooFar(Fact):
    """The nearest door takes more minutes, with the walk, than are left."""

    needed: float
    left: float


@dataclass(frozen=True, slots=True)
class NoWindow(Fact):
    """The time windows of ``[[access]]`` leave no door worth a visit between two minutes after midnight."""

    begins: int
    ends: float


@dataclass(frozen=True, slots=True)
class HeldBack(Fact):
    """Doors taken for infested, though not known, that come after others to limit carry-over."""

    units: tuple[str, ...]
    finds: float  #: Expected finds at them, lost where a round is cut short before them
    minute: float  #: When the first of them begins


@dataclass(frozen=True, slots=True)
class Barred(Fact):
    """A door that may not be entered on the day, by its notice of entry or after a refusal."""

    #: ``needed``, ``running`` or ``refused``, as :attr:`spread.decisions.week.entry.Entry.state`
    state: str
    #: The first day on which it may be entered: by the notice on record, or if notice is given at once
    first: dt.date


NoDoor = AllBarred | AllShut | NothingLeft | TooFar | NoWindow


@dataclass(frozen=True, slots=True)
class Position:
    """Where a technician stands and how many minutes after the beginning of the round."""

    at: str  #: Unit code or place of the round's beginning
    minute: float = 0.0  #: Minutes after the beginning of the round


@dataclass(frozen=True)
class RoundSettings:
    """What a round may take."""

    minutes: float = 240.0  #: Time of each technician
    technicians: int = 1  #: How many go
    #: Where they start (:meth:`spread.contacts.distances.Distances.from_start`); empty for the usual place
    start: str = ""
    begins: int = NINE  #: Minutes after midnight at which the round begins; time windows are by the clock
    method: str = "brief-visual"  #: How they look; ``dog`` is the dog and a brief look on an alert
    order: str = "find"  #: What the round maximises, a word of :data:`spread.settings.ORDERS`
    pace: Pace = field(default_factory=Pace)  #: Minutes and walking speed
    access: tuple[AccessRule, ...] = ()  #: Time windows and do-not-enter marks
    #: Units that go in first, with why (a ring, a duty)
    must: Mapping[str, Must] = field(default_factory=dict)
    #: Standings that are visited: doors to look at, and units to treat or to revisit if asked
    kinds: tuple[str, ...] = ("look",)
    done: Collection[str] = frozenset()  #: Units that need no visit any more on this round
    #: Units that may not be entered on the day, with why: they are left out whatever asks for them
    barred: Mapping[str, Barred] = field(default_factory=dict)
    day: dt.date | None = None  #: The day of the round; that of the view if None
    only: Collection[str] | None = None  #: Units to choose from; all if None
    visits: Mapping[str, float] = field(default_factory=dict)  #: Minutes of a visit, if not a look's
    each: tuple[float, ...] = ()  #: Minutes of each technician, where they differ
    #: Where technicians stand, for a round under way; empty for its beginning
    positions: tuple[Position, ...] = ()
    #: seed, effort: Seed and rounds of the search; the same seed gives the same round
    seed: int = 1
    effort: int = 60


@dataclass(frozen=True, slots=True)
class Stop:
    """One door of a round; minutes from its beginning, chances 0 to 1.

    ``known`` says that an infestation is on record there, so that a look finds nothing new.
    ``finds`` and ``worth`` (weeks averted) are expected ones with the chance of a shut door in;
    ``worth_of_find`` is what a find there is worth, ``must`` why it was forced in, ``ring`` how it
    lies to the finds whose rings ask for it, ``access`` its time window, ``why`` up to three reasons.
    """

    unit: str
    floor: str
    method: str
    arrive: float
    begin: float
    leave: float
    walk_m: float
    chance: float
    tier: str
    known: bool
    opens: float
    finds: float
    worth: float
    worth_of_find: float
    must: Must | None
    ring: tuple[RingPlace, ...]
    access: Access | None
    why: tuple[Fact, ...]


@dataclass(frozen=True, slots=True)
class Path:
    """One technician's part: ``finish`` as expected, ``at_most`` if every door opens (waiting kept)."""

    technician: int
    start: str
    begins: float
    stops: tuple[Stop, ...]
    finish: float
    at_most: float

    @property
    def walk_m(self) -> float:
        """Metres walked."""
        return sum(stop.walk_m for stop in self.stops)


@dataclass(frozen=True, slots=True)
class Round:
    """A planned round."""

    #: method, minutes, begins: As asked for; ``begins`` in minutes after midnight
    method: str
    minutes: float
    begins: int
    paths: tuple[Path, ...]  #: One a technician, also where it has no stop
    #: finds, worth: Expected finds that are new (doors whose infestation is on record do not count), and
    #: infested-unit-weeks averted
    finds: float
    worth: float
    finish: float  #: Minutes from the beginning until the last technician is done
    #: Units that cannot be entered or did not fit though forced, with why
    left_out: tuple[tuple[str, Access | Barred | NoTime | GaveWay], ...]
    no_door: NoDoor | None = None  #: Why there is no stop at all; else None
    held_back: HeldBack | None = None  #: What the order puts at risk; None where nothing

    @property
    def known(self) -> tuple[str, ...]:
        """Doors on the round whose infestation is on record already."""
        return tuple(stop.unit for path in self.paths for stop in path.stops if stop.known)

    @property
    def units(self) -> tuple[str, ...]:
        """All doors, technician by technician in order."""
        return tuple(stop.unit for path in self.paths for stop in path.stops)

"""What a row of the registry of methods says."""

from __future__ import annotations

from dataclasses import dataclass

from spread.trade.sources import Line, Sourced


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """A way of looking that answers at the visit."""

    key: str  #: Its word in the log, in settings and in commands
    name: str  #: What it is called, at the head of a line: ``Brief look``
    how: str  #: How something was found by it, within a sentence: ``in a brief look``
    plain: str  #: What it is, to a resident who has never heard of it: ``a trained dog``
    bring: tuple[str, ...]  #: What to bring to the door (common practice, no source)
    sensitivity: tuple[Sourced, ...]  #: Chance of a find in an infested unit: trace, low, moderate, heavy
    false_find: Sourced  #: Chance that a clear unit gives what usually counts as positive
    minutes: Sourced  #: Minutes in the unit; of a monitor setting and checking together
    fee: Sourced  #: Material or fee of one look, or of one monitor set, beside the technician's time
    article: str = ""  #: The name within a sentence where it is not the name in small letters: ``a dog``
    #: What carrying it through is called, where that is more than the name: ``Interceptors for 14 days``
    whole: str = ""
    usual_sign: str = "live"  #: The sign that a find usually is; empty where nothing is shown
    #: Whether somebody's eyes search: signs may be all there is, some looks end unsure, and a clean one
    #: counts among the looks that clearance asks for
    by_eye: bool = False
    thorough: bool = False  #: Whether it opens and turns what a brief look leaves
    #: Whether it is somebody's word: no look in the sense of the rules, and it confirms and clears nothing
    hearsay: bool = False
    #: The look that has to confirm what it alone gives; empty where a find needs no other
    confirmed_by: str = ""
    weighed: bool = True  #: Whether it is weighed where methods are compared for a door
    alert: str = ""  #: What an unconfirmed yes is called: ``a dog alerted``; empty where a yes is a find
    #: found, not_found: What a yes and a no are called in the log
    found: str = "found"
    not_found: str = "nothing found"
    #: What happens where it comes upon nothing: ``If nothing is found, ...``
    if_nothing: str = "nothing is found"
    caution: str = ""  #: What is said besides where it is offered; never empty for what clears nothing

    @property
    def proves(self) -> bool:
        """Whether its word alone makes a known infestation, and its clean looks count towards ending one."""
        return not (self.hearsay or self.confirmed_by)

    @property
    def within(self) -> str:
        """Its name within a sentence."""
        return self.article or self.name.lower()

    @property
    def carried_through(self) -> str:
        """What a visit by it is until there is an answer."""
        return self.whole or self.name

    @property
    def stream(self) -> str:
        """The name of its random numbers in simulated programmes."""
        return f"look:{self.key}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Monitor(Look):
    """A way of looking that stands for some days and answers when it is read."""

    nominal_days: float  #: Length of the period that :attr:`Look.sensitivity` holds for
    caps: tuple[float, ...]  #: Most that a period of any length finds, by level
    set_up: float  #: Minutes of :attr:`Look.minutes` that fall on the first visit; the check is another visit
    those: str  #: What they are called once spoken of: ``few monitors``
    several: str  #: What they are called in general: ``lure traps``
    #: Whether a clearance rule may count its clean periods: it stands for the whole of them
    may_clear: bool = False
    item: str = ""  #: The code of the room sheet whose state says whether it stood; empty where it has none
    found: str = "caught"
    not_found: str = "nothing caught"
    if_nothing: str = "nothing is caught"

    @property
    def stream(self) -> str:
        """The name of its random numbers in simulated programmes."""
        return f"monitor:{self.key}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Treatment:
    """A way of treating a unit."""

    key: str  #: Its word in the log, in settings and in commands
    name: str  #: What it is called in a history: ``Spray treatment``
    short: str  #: What it is called in a list of treatments: ``Spray``
    #: Chance that one visit leaves no bug alive: trace, low, moderate, heavy
    elimination: tuple[Sourced, ...]
    reduction: Sourced  #: Share of bugs gone in one visit where some remain
    material: Sourced  #: Material and equipment of one visit
    #: Whether it is what a programme falls back on as the heat that follows after so many visits
    heats_rooms: bool = False
    prepare: tuple[Line, ...] = ()  #: What a resident prepares for it besides
    cautions: tuple[Line, ...] = ()  #: What to be careful of, by topic

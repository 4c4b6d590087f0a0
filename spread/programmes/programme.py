"""A programme as data: what makes somebody look, how, and what follows a find."""

from __future__ import annotations

from dataclasses import dataclass, field

from spread.programmes.told import Candidate, DoorsAWeek, SurveyEvery, TreatedEvery


@dataclass(frozen=True, slots=True)
class Complaint:
    """Look where a resident reports bugs."""

    method: str = "brief-visual"  #: How
    within_weeks: int = 1  #: Weeks until the look, at most; 0 is the same week
    tries: int = 3  #: Knocks before a shut door is given up


@dataclass(frozen=True, slots=True)
class Ring:
    """Look around every find."""

    rules: str = "building"  #: Whose ring: ``building`` (its settings), letters of LRUD, or a rule set's id
    across: bool = False  #: Whether the door across the hallway belongs to a ring given by letters
    #: method, within_weeks, tries: As in :class:`Complaint`; looks begin the week after the find
    method: str = "brief-visual"
    within_weeks: int = 2
    tries: int = 3


@dataclass(frozen=True, slots=True)
class Ranked:
    """Look at the doors where a find is likeliest, by the model and everything recorded so far."""

    doors: int = 10  #: How many each time; 0 to fill ``minutes``
    minutes: float = 0.0  #: Minutes each time, knocks and looks together; 0 to go by ``doors``
    every_weeks: int = 1  #: How often
    from_week: int = 0  #: The first week
    #: method, tries: As in :class:`Complaint`; a door that stays shut is ranked again anyway
    method: str = "brief-visual"
    tries: int = 1


@dataclass(frozen=True, slots=True)
class Survey:
    """Look at every unit."""

    every_weeks: int = 52  #: Weeks from one survey to the next
    times: int = 0  #: How many surveys; 0 is without end
    from_week: int = 0  #: The first week
    over_weeks: int = 1  #: How many weeks one survey is spread over
    #: method, tries: As in :class:`Complaint`
    method: str = "brief-visual"
    tries: int = 3


@dataclass(frozen=True, slots=True)
class Vacant:
    """Look at a unit when its people have left."""

    method: str = "thorough-visual"


@dataclass(frozen=True, slots=True)
class Treatment:
    """What follows a find."""

    method: str = "combined"  #: How a visit treats
    within_weeks: int = 1  #: Weeks from the find to the first treatment
    every_weeks: int = 2  #: Weeks from visit to visit
    heat_after: int = 0  #: Every so many treatments that did not end a case, the next is by heat; 0 is never
    #: Whether the first treatment visit of a course encases the beds, once a household. Encasements cost
    #: money and minutes; no figure was found by which they would change an infestation, so they change none.
    encase: bool = False


@dataclass(frozen=True, slots=True)
class Clearance:
    """What a programme changes in the building's clearance rule, which says when a course ends."""

    #: periods, heavy_periods, period_days, looks, chance: As in
    #: :class:`spread.trade.clearance.ClearanceRule`; None is as the building has it
    periods: int | None = None
    heavy_periods: int | None = None
    period_days: int | None = None
    looks: int | None = None
    chance: float | None = None
    monitors: bool = True  #: Whether the rule's monitors stand between the visits and must be empty too


@dataclass(frozen=True, slots=True)
class Watch:
    """Look again at a unit whose course has ended: the watch after clearance."""

    method: str = "brief-visual"  #: How
    every_weeks: int = 13  #: Weeks from the end of the course to the first look, and from look to look
    weeks: int = 52  #: For how long
    tries: int = 2  #: Knocks before a shut door is given up


@dataclass(frozen=True, slots=True)
class Programme:
    """One way to run a building."""

    #: key, name, words: Short name for a command line, a name, and a sentence of what it is, as its file has
    #: them
    key: str
    name: str
    words: str = ""
    #: complaint, ring, ranked, survey, vacant, watch: What makes somebody look; None is not done
    complaint: Complaint | None = field(default_factory=Complaint)
    ring: Ring | None = None
    ranked: Ranked | None = None
    survey: Survey | None = None
    vacant: Vacant | None = None
    watch: Watch | None = None
    #: How an alert of a dog or a resident's word is confirmed, and how an unsure look is repeated
    confirm: str = "thorough-visual"
    #: treatment, clearance: What follows a find. The same for all presets, so that they differ in how they
    #: find.
    treatment: Treatment = field(default_factory=Treatment)
    clearance: Clearance = field(default_factory=Clearance)
    #: Week in which ring, ranked doors, surveys, the watch and looks at turnover begin; reports are answered
    #: before too
    begins: int = 0
    notice: bool = True  #: Whether an entry notice is written for every planned visit to an occupied unit
    #: How a search put it together, where no file names it; ``name`` is empty then
    made: Candidate | SurveyEvery | DoorsAWeek | TreatedEvery | None = None

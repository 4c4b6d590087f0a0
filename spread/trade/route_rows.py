"""The registry of routes: one row a way between two units."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from spread.trade.sources import Sourced, judged

_FIT = (
    "joint fit of 2026 to published buildings and trials (docs/evidence.md), which moves all routes together"
)
_RANGE = "5 to 95 % of its draws, each with its spread between buildings"
#: The other routes' ranges are wider by what was not known of them beside a wall.


@dataclass(frozen=True, slots=True, kw_only=True)
class Route:
    """A way between two units: a row of the registry of routes."""

    key: str  #: Its word: the key of an edge of the contact graph, and ``route`` of ``[[links]]``
    name: str  #: What it is called as a source of new infestations: ``Walls``
    contacts: str  #: What its contacts are called where they are counted: ``shared walls``
    #: Chance per week that a heavy neighbour founds an infestation at exposure 1
    rate: Sourced
    #: How one unit lies to another by it, read as "101 {words} 204": for a measured route of which
    #: :mod:`spread.words.relations` has no words; a tie given by hand brings its own
    words: str = "is tied to"
    #: The function that measures it, as ``module:function``. It takes a plan and the exposure settings and
    #: yields :class:`spread.contacts.measured.Measured`. Empty for a route that no drawing shows: its pairs
    #: are given by hand, in ``[[links]]`` of ``building.toml`` with ``route`` its key.
    measured_by: str = ""
    #: Whether rings see it, and on which side: ``beside``, ``stacked``, ``facing`` (only doors that face each
    #: other), or empty
    side: Literal["", "beside", "stacked", "facing"] = ""

    @property
    def touches(self) -> bool:
        """Whether the two units share a wall, a floor or a ceiling."""
        return self.side in ("beside", "stacked")


ROWS = (
    Route(
        key="wall",
        name="Walls",
        contacts="shared walls",
        rate=Sourced(0.007, 0.0033, 0.013, "per week", f"{_FIT}; {_RANGE}", "C", "fitted"),
        measured_by="spread.contacts.measured:walls",
        side="beside",
    ),
    Route(
        key="floor",
        name="Floors and ceilings",
        contacts="floors and ceilings",
        rate=Sourced(
            0.0049,
            0.0014,
            0.015,
            "per week",
            f"{_FIT}; 0.7 of a wall is judgement, not identified",
            "C",
            "fitted",
        ),
        measured_by="spread.contacts.measured:floors",
        side="stacked",
    ),
    Route(
        key="riser",
        name="Risers",
        contacts="shared risers",
        rate=Sourced(
            0.0011,
            0.00023,
            0.0047,
            "per week",
            f"{_FIT}; its part against a wall is judgement: plumbing matters to German cockroaches (Owens "
            "1984, Purdue thesis). A unit meets about nine others along a drawn riser, and with 0.3 of a "
            "wall each a simulated tower filled faster than the published one (134 units in 41 months "
            "against 101), so that is halved",
            "C",
            "fitted",
        ),
        measured_by="spread.contacts.measured:risers",
    ),
    Route(
        key="hallway",
        name="Hallways",
        contacts="doors along a hallway",
        rate=Sourced(
            0.0041,
            0.0012,
            0.013,
            "per week",
            f"{_FIT}; 0.57-0.6 of a wall, from 53 % beside and 45 % across (Wang et al. 2010, doi "
            "10.1603/EC09230; the 45 % at second hand)",
            "C",
            "fitted",
        ),
        measured_by="spread.contacts.measured:hallways",
        side="facing",
    ),
    Route(
        key="link",
        name="Ties given by hand",
        contacts="ties given by hand",
        rate=judged(0.0041, 0.00073, 0.021, "per week", "judgement: as the door across the hallway"),
    ),
)
"""Every route; a new one is a row more, and goes at the end, so that the others keep their places."""

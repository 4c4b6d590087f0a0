"""Published holds of heat and cold, laundry and steam, each row beside its source.

The studies disagree by more than tenfold (4 minutes in a water bath against 95 in a slow ramp, for adults
at 45 C), so a curve through them would be false precision: rows are met or not met
(:mod:`spread.trade.credit`).
"""

from __future__ import annotations

from dataclasses import dataclass

_KG11 = "Kells and Goblirsch 2011, doi 10.3390/insects2030412"
_O13 = "Olson et al. 2013, doi 10.1603/EC13032"
_NB10 = "Naylor and Boase 2010, doi 10.1603/EC09288"
_PK13 = "Puckett et al. 2013, Pest Manag Sci 69:1061"
_P09 = "Pereira et al. 2009, J Econ Entomol 102:1182"
_CORNELL = "Cornell Integrated Pest Management (extension page)"

STAGES = ("all", "adults")  #: What a row counts for: every stage, eggs among them, or adults alone


@dataclass(frozen=True, slots=True)
class Row:
    """One row of a table."""

    name: str  #: What has to be met, in words
    #: celsius, minutes: The hold: at least so hot (or so cold) for at least so long; 0 minutes is one reading
    celsius: float
    minutes: float
    stages: str  #: One of :data:`STAGES`: what it counts for, where it is credited
    credited: bool  #: Whether it is credited; rows that are not stand here so that the reason can be told
    #: source, confidence: As in :class:`spread.trade.sources.Sourced`
    source: str
    confidence: str
    above: bool = False  #: Whether it has to be hotter than ``celsius`` and not just as hot


HEAT = (
    Row(
        "55 C (131 F), one reading", 55.0, 0.0, "all", True,
        f"{_KG11}: 99 % of eggs dead at 54.8 C in a ramp", "A",
    ),
    Row(
        "49 C (120 F) for 1 minute", 49.0, 1.0, "adults", True, f"{_KG11}: 48.3 C; {_P09}: 48.9 C, 1 minute",
        "B",
    ),
    Row(
        "48 C (118 F) for 72 minutes", 48.0, 72.0, "all", True, f"{_KG11}: 99 % of eggs dead in 71.5 minutes",
        "A",
    ),
    Row(
        "45 C (113 F) for 95 minutes", 45.0, 95.0, "adults", True, f"{_KG11}: 99 % of adults in 94.8 minutes",
        "A",
    ),
    Row(
        "45 C (113 F) for 7 hours", 45.0, 420.0, "all", False, f"{_KG11}: eggs survived 7 hours at 45 C", "A"
    ),
)  # fmt: skip
"""Heat at the bug, hottest first."""
HEAT_WORKING_MINUTES = 90.0
"""Minutes at 48 C to aim for, so that a slow probe does not decide (facts of the trade; judgement)."""

COLD = (
    Row("-20 C (-4 F) for 48 hours", -20.0, 48 * 60.0, "all", True, f"{_O13} (hours second-hand)", "B"),
    Row("-16 C (3 F) for 80 hours", -16.0, 80 * 60.0, "all", True, f"{_O13} (hours second-hand)", "B"),
    Row(
        "-12 C (10 F) for a week", -12.0, 7 * 1440.0, "all", False, f"{_O13}: some lived through a week", "A"
    ),
)
"""Cold at the bug, coldest first. A shorter hold (-17 C for 2 hours, Naylor and Boase 2010) contradicts
these and is not credited."""

LAUNDRY = {
    "wash": (
        Row("a wash at 60 C (140 F)", 60.0, 0.0, "all", True, f"{_NB10}: all stages", "A"),
        Row(
            "a wash at 40 C (104 F)", 40.0, 0.0, "all", False,
            f"{_NB10}: three of four eggs lived (second-hand)", "B",
        ),
    ),
    "dry": (
        Row(
            "a dryer above 40 C (104 F) for 30 minutes",
            40.0,
            30.0,
            "all",
            True,
            f"{_NB10}: all stages",
            "A",
            above=True,
        ),
    ),
    "soak": (Row("a cold soak of 24 hours", 0.0, 1440.0, "all", False, f"{_NB10}: eggs lived", "A"),),
    "dry-clean": (
        Row("dry cleaning (perchloroethylene)", 0.0, 0.0, "all", True, f"{_NB10}: all stages", "A"),
    ),
}  # fmt: skip
"""Laundry by what was done with it."""

STEAM = Row(
    "a surface of 71 C (160 F) right after the pass", 71.0, 0.0, "all", True,
    f"{_CORNELL}: 71-82 C; {_PK13}: eggs 100 %, nymphs and adults 88-94 % in the laboratory", "B",
)  # fmt: skip
STEAM_HOTTEST = 82.0  #: Surface that steam need not pass (same page): hotter harms finishes and fabrics

"""Ways of looking that answer at the visit, one row each."""

from __future__ import annotations

from spread.trade.methods.false_finds import ALERT, SAID, SEEN
from spread.trade.methods.rows import Look
from spread.trade.sources import Sourced, judged, sourced_row

W16 = "Wang et al. 2016, J Med Entomol 53:639"
SPLIT = "; the split by level is judgement"
FIT = "joint fit of 2026 (docs/evidence.md)"
MINUTES = "minutes per unit"
DOLLARS = "US$"

BRIEF = Look(
    key="brief-visual",
    name="Brief look",
    how="in a brief look",
    plain="a look at the bed, the sofa and the places near them",
    bring=("flashlight", "gloves", "a thin card for seams", "clear tape and small bags for samples"),
    sensitivity=sourced_row(
        (0.27, 0.57, 0.83, 0.98),
        (0.10, 0.40, 0.75, 0.93),
        (0.45, 0.75, 0.95, 1.0),
        unit="chance of a find",
        source=f"{FIT}: {W16} found 72 % of what this or interceptors found{SPLIT}",
        confidence="B",
        kind="fitted",
    ),
    false_find=SEEN,
    minutes=Sourced(
        10.0,
        5.0,
        15.0,
        MINUTES,
        "njspotlight.com, 23 June 2016, on Wang et al. 2016: at most 10 minutes",
        "B",
    ),
    fee=judged(0.0, 0.0, 2.0, DOLLARS, "judgement: labour only"),
    by_eye=True,
)
THOROUGH = Look(
    key="thorough-visual",
    name="Thorough look",
    how="in a thorough look",
    plain="a long look at all rooms",
    bring=(
        "flashlight",
        "gloves",
        "a thin card for seams",
        "mirror",
        "screwdriver for headboard and outlets",
        "kneepads",
        "shoe covers",
        "clear tape and small bags for samples",
    ),
    sensitivity=sourced_row(
        (0.37, 0.67, 0.91, 0.99),
        (0.15, 0.50, 0.80, 0.95),
        (0.60, 0.85, 0.97, 1.0),
        unit="chance of a find",
        source="judgement: the brief look and a tenth, moved with it; no direct data",
        confidence="C",
        kind="judged",
    ),
    false_find=SEEN,
    minutes=judged(40.0, 25.0, 75.0, MINUTES, "judgement, furniture turned; from memory"),
    fee=judged(0.0, 0.0, 2.0, DOLLARS, "judgement: labour only"),
    by_eye=True,
    thorough=True,
)
DOG = Look(
    key="dog",
    name="Dog",
    article="a dog",
    whole="Dog, then a brief look to confirm an alert",
    how="at a dog's visit",
    plain="a trained dog",
    bring=(
        "the dog and its handler",
        "for an alert: flashlight",
        "gloves",
        "a thin card for seams",
        "clear tape and small bags for samples",
    ),
    sensitivity=sourced_row(
        (0.44,) * 4,
        (0.10,) * 4,
        (1.0,) * 4,
        unit="chance of an alert",
        source="Cooper et al. 2014, doi 10.1603/EC14195: mean of 11 teams, 10-100 %, no effect of level",
        confidence="B",
    ),
    false_find=ALERT,
    minutes=judged(
        5.5, 4.0, 8.0, MINUTES, "judgement: a newspaper says 80-100 rooms a day and dog, second-hand"
    ),
    fee=Sourced(
        20.0, 8.0, 40.0, DOLLARS, "a trade page: US$20 a further unit, second-hand", "C", "second-hand"
    ),
    usual_sign="alert",
    confirmed_by=BRIEF.key,
    alert="a dog alerted",
    not_found="no alert",
    if_nothing="the dog finds nothing that a look confirms",
    caution="that clears nothing",
)
INTERVIEW = Look(
    key="interview",
    name="Interview",
    how="in an interview",
    plain="a talk with the people who live there",
    bring=("the questions and a pen", "pictures of the bugs and their signs"),
    sensitivity=sourced_row(
        (0.14, 0.34, 0.64, 0.84),
        (0.05, 0.20, 0.45, 0.70),
        (0.25, 0.50, 0.80, 0.95),
        unit="chance that the resident knows and says so",
        source=f"{FIT}: {W16} (49 % unaware); Wang et al. 2010, doi 10.1603/EC09230 (50 %){SPLIT}",
        confidence="B",
        kind="fitted",
    ),
    false_find=SAID,
    minutes=judged(4.0, 2.0, 8.0, MINUTES, "judgement: a few minutes"),
    fee=judged(0.0, 0.0, 1.0, DOLLARS, "judgement: labour only"),
    usual_sign="",
    hearsay=True,
    weighed=False,
    alert="bugs were spoken of in an interview",
    found="says yes",
    not_found="nothing noticed",
    if_nothing="nothing is said",
    caution="that clears nothing",
)

ROWS = (BRIEF, THOROUGH, DOG, INTERVIEW)
"""Every look, in the order in which people are offered them; a new one is a row more."""

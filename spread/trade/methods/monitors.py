"""Ways of looking that stand for some days, one row each."""

from __future__ import annotations

from spread.trade.methods.false_finds import CAUGHT
from spread.trade.methods.looks import DOLLARS, FIT, MINUTES, SPLIT, W16
from spread.trade.methods.rows import Monitor
from spread.trade.sources import judged, sourced_row

INTERCEPTORS = Monitor(
    key="interceptors",
    name="Interceptors",
    whole="Interceptors for 14 days",
    those="interceptors",
    several="interceptors",
    how="with interceptors",
    plain="small traps under the legs of the bed",
    bring=(
        "traps for every leg of beds and sofas",
        "talc if they need it",
        "flashlight",
        "gloves",
        "clear tape and small bags for samples",
    ),
    sensitivity=sourced_row(
        (0.50, 0.79, 0.93, 0.99),
        (0.31, 0.67, 0.86, 0.96),
        (0.73, 0.90, 0.99, 1.0),
        unit="chance of a catch in 14 days",
        source=f"{FIT}: {W16} found 89 % of what these or a brief look found{SPLIT}",
        confidence="B",
        kind="fitted",
    ),
    false_find=CAUGHT,
    minutes=judged(
        15.0, 9.0, 23.0, MINUTES, "judgement: 10 to place 8-12 of them and 5 to check after 14 days"
    ),
    fee=judged(5.0, 2.0, 20.0, DOLLARS, "judgement: 8-12 of them, used several times"),
    nominal_days=14.0,
    # Two periods of 14 days; legs get moved and monitors kicked away (judgement).
    caps=(0.75, 0.95, 0.97, 0.99),
    set_up=10.0,
    may_clear=True,
    item="interceptors",
)
FEW = Monitor(
    key="monitors-few",
    name="A few monitors",
    whole="A few monitors for 14 days",
    those="few monitors",
    several="a few monitors",
    how="with a few monitors",
    plain="a few small traps",
    bring=("two traps a unit", "flashlight", "gloves", "clear tape and small bags for samples"),
    sensitivity=sourced_row(
        (0.25, 0.50, 0.80, 0.95),
        (0.10, 0.35, 0.65, 0.90),
        (0.40, 0.65, 0.90, 0.99),
        unit="chance of a catch in 14 days",
        source=(
            "Vail and Chandler 2017, doi 10.1093/jee/tox053: 80-90 % of low-level units in 8 weeks" + SPLIT
        ),
        confidence="C",
    ),
    false_find=CAUGHT,
    minutes=judged(7.0, 4.0, 12.0, MINUTES, "judgement: 4 to place two and 3 to check"),
    fee=judged(3.0, 1.0, 10.0, DOLLARS, "judgement: two, used several times"),
    nominal_days=14.0,
    caps=(0.99,) * 4,
    set_up=4.0,
    may_clear=True,
    weighed=False,
)
LURE = Monitor(
    key="lure-trap",
    name="Lure trap",
    whole="Lure trap for a night",
    those="lure traps",
    several="lure traps",
    how="with a lure trap",
    plain="a trap that draws bugs in",
    bring=(
        "one lure trap and what it runs on",
        "flashlight",
        "gloves",
        "clear tape and small bags for samples",
    ),
    sensitivity=sourced_row(
        (0.30, 0.60, 0.80, 0.95),
        (0.10, 0.40, 0.65, 0.85),
        (0.45, 0.75, 0.95, 1.0),
        unit="chance of a catch in one night",
        source=(
            "Wang et al. 2011, doi 10.1603/EC10141: a carbon dioxide trap for one night equals a visual "
            "inspection"
        ),
        confidence="C",
    ),
    false_find=CAUGHT,
    minutes=judged(12.0, 8.0, 20.0, MINUTES, "judgement: set up, and fetch the next day"),
    fee=judged(10.0, 4.0, 25.0, DOLLARS, "judgement: the lure of a night"),
    nominal_days=1.0,
    # Four nights of an active trap equal ten days of interceptors (doi 10.1603/EC10141), not four
    # independent nights.
    caps=(0.50, 0.75, 0.90, 0.98),
    set_up=8.0,
    weighed=False,
)

ROWS = (INTERCEPTORS, FEW, LURE)
"""Every monitor, in the order in which people are offered them; a new one is a row more."""

"""Ways of treating a unit, one row each.

In trials 90-99 % fewer bugs were normal, none left in 10-26 weeks was 22-67 %.
"""

from __future__ import annotations

from spread.trade.methods.looks import DOLLARS, FIT
from spread.trade.methods.rows import Treatment
from spread.trade.sources import COMMON_PRACTICE, Line, Sourced, judged, sourced_row

COURSE = (
    "judgement, set so that five visits to a heavy unit, looks and traps included, cost US$476: published "
    "are US$463 and 482 for ten weeks in units with medians of 73.5 and 77 bugs (Wang et al. 2009, J Med "
    "Entomol 46:566, from memory)"
)
_W12 = "Wang et al. 2012, doi 10.3390/insects3020402 (shares from memory)"
_S13 = "Singh et al. 2013, doi 10.3390/insects4040731"
_W14 = "Wang et al. 2014, doi 10.3390/insects5040849"
_A20 = "Abbar et al. 2020, doi 10.3390/insects11070443"
_C16 = (
    "Cooper 2016, doi 10.7282/T3NC638W: 96 % of units with 10 bugs or fewer were free after 22 weeks of traps"
)
_UNIT = "chance of elimination per visit"
_CUT = "share of bugs gone per visit"

STEAM = Treatment(
    key="steam-dust-encase",
    name="Steam, dust and encasement treatment",
    short="Steam, dust and encasement",
    elimination=(
        Sourced(0.16, 0.08, 0.35, _UNIT, f"{FIT}; {_C16}", "C", "fitted"),
        Sourced(0.12, 0.06, 0.35, _UNIT, f"{FIT}; {_W12}: 6 of 9 units in five visits", "C", "fitted"),
        Sourced(0.072, 0.036, 0.20, _UNIT, f"{FIT}; {_A20}: 4 of 11 units in six visits", "C", "fitted"),
        Sourced(0.029, 0.01, 0.12, _UNIT, f"{FIT}; {_S13}: none of the heavy units", "C", "fitted"),
    ),
    reduction=Sourced(0.34, 0.23, 0.54, _CUT, f"{_S13}; {_A20}: -89 and -99 % in six visits", "B"),
    material=judged(25.0, 10.0, 60.0, DOLLARS, COURSE),
    cautions=(
        Line(
            "Burns. Low pressure and a wide head or cloth, so that no bug is blown away; a surface of 71-82 "
            "C (160-180 F) right after the pass. Keep off outlets and electronics; dry what got wet.",
            "Cornell Integrated Pest Management for the temperature; the rest common practice, no source",
            "Steam",
        ),
        Line(
            "Power off and verified dead before a plate comes off, by a trained person; no steam or liquid.",
            "OSHA 29 CFR 1910.333, from memory",
            "Electricity",
        ),
        Line(
            "A thin film in cracks and voids, no visible piles, only where the label allows it. N95 or "
            "better, nobody else in the room; never pool or filter grade.",
            "OSHA 29 CFR 1910.1000 Table Z-3 limits dust in the air; the rest from memory",
            "Dust",
        ),
    ),
)
_PRODUCTS = Line(
    "Licensed applicators only where the law asks for it. Not on bedding, not where heads rest, not near "
    "medicines, oxygen or breathing devices. Wash treated bedding before use.",
    "CDC 2011, MMWR 60(37):1269; local law on applicators",
    "Products",
)
SPRAY = Treatment(
    key="spray",
    name="Spray treatment",
    short="Spray",
    elimination=sourced_row(
        (0.087, 0.07, 0.043, 0.017),
        (0.04, 0.03, 0.02, 0.005),
        (0.20, 0.15, 0.10, 0.06),
        unit=_UNIT,
        source=f"{FIT}; {_W12}: 2 of 6 units in five visits; {_W14}: 22 % in six visits; split judged",
        confidence="C",
        kind="fitted",
    ),
    reduction=Sourced(0.34, 0.23, 0.54, _CUT, f"{_W14}: about -92 % in six visits", "B"),
    material=judged(15.0, 5.0, 40.0, DOLLARS, COURSE),
    cautions=(_PRODUCTS,),
)
HEAT = Treatment(
    key="whole-room-heat",
    name="Whole-room heat treatment",
    short="Whole-room heat",
    elimination=sourced_row(
        (0.70,) * 4,
        (0.50,) * 4,
        (0.90,) * 4,
        unit=_UNIT,
        source="judgement: a competent heat treatment; no trial found",
        confidence="C",
        kind="judged",
    ),
    reduction=judged(0.90, 0.70, 0.98, _CUT, "judgement: where heat fails, few are left"),
    material=judged(700.0, 300.0, 1500.0, DOLLARS, "judgement: equipment, fuel and a second person"),
    heats_rooms=True,
    prepare=(
        Line(
            "For a whole-room heat treatment things stay in the room.",
            "NPMA Best Management Practices 2016, 8.3.1.3",
        ),
        Line(
            "Before it, take out what heat harms or what can burst: aerosols, lighters, ammunition, candles, "
            "medicines, pets.",
            COMMON_PRACTICE,
        ),
    ),
    cautions=(
        Line(
            "Attended and measured all the time, probes where it is coldest. Never improvised or fuel "
            "heaters: they have started fires. Sprinklers need a plan with the owner and the fire authority "
            "first.",
            "pctonline.com pct0313 and NFPA 13 notes (second-hand)",
            "Heat",
        ),
    ),
)
COMBINED = Treatment(
    key="combined",
    name="Combined treatment",
    short="Combined",
    elimination=sourced_row(
        (0.19, 0.15, 0.1, 0.05),
        (0.095, 0.075, 0.05, 0.02),
        (0.40, 0.35, 0.25, 0.15),
        unit=_UNIT,
        source=f"{FIT}; {_S13}; {_A20}. That a product added to the rest does no harm is judgement, and so "
        "is the split by level",
        confidence="C",
        kind="fitted",
    ),
    reduction=judged(0.40, 0.23, 0.54, _CUT, f"judgement between 0.34 and {_A20}: -99 % in six"),
    material=judged(30.0, 10.0, 70.0, DOLLARS, COURSE),
    cautions=(*STEAM.cautions, _PRODUCTS),
)

ROWS = (STEAM, SPRAY, HEAT, COMBINED)
"""Every treatment, in the order in which people are offered them; a new one is a row more."""

"""Chance of a positive in a clear unit, by what was accepted as positive."""

from __future__ import annotations

from spread.trade.sources import Sourced, judged

_FP = "chance of a positive in a clear unit"

SEEN = judged(0.005, 0.0, 0.02, _FP, "judgement: look-alike insects, a stray bug; no field study found")
CAUGHT = judged(0.01, 0.0, 0.03, _FP, "judgement: as seen, and a monitor may hold a stray or an old bug")
SIGNS = judged(
    0.10, 0.03, 0.20, _FP, "judgement from NPMA Best Management Practices 2016, 9.4: never treated"
)
OLD_SIGNS = judged(0.35, 0.20, 0.50, _FP, "judgement: skins and stains outlast a treatment")
DEAD = Sourced(
    0.05, 0.02, 0.09, _FP,
    "Vail and Chandler 2017, Int. Conf. Urban Pests 1471: only dead bugs in 2 and 9 % of units", "C",
)  # fmt: skip
ALERT = Sourced(
    0.15, 0.0, 0.57, _FP, "Cooper et al. 2014, doi 10.1603/EC14195: mean of 11 teams, 0-57 %", "B"
)
BITES = judged(
    0.40, 0.20, 0.60, _FP,
    "judgement; bites prove nothing: Vaidyanathan and Feldlaufer 2013, doi 10.4269/ajtmh.12-0493",
)  # fmt: skip
SAID = judged(0.05, 0.01, 0.15, _FP, "judgement: a resident's own word, nothing shown")

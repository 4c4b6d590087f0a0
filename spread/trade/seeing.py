"""What differs between buildings and people in who reports and who finds: priors of what a log teaches.

Every width is taken from the ranges that the numbers of :mod:`spread.trade` stand with.
"""

from __future__ import annotations

import math
from statistics import mean

from spread.trade import detection
from spread.trade.methods import false_finds
from spread.trade.registry import LOOKING
from spread.trade.sources import Sourced, judged

_SPAN = 2 * 1.6448536269514722
"""Standard deviations between the 5 % and the 95 % point of a normal distribution."""

NEVER_REPORTS = judged(
    0.15,
    0.02,
    0.4,
    "share of units",
    "judgement: some 30 % of people with bed bugs do not react to bites (Potter et al. 2010, PCT Feb 2010, "
    "second-hand) and 49 % of residents with bugs were unaware (Wang et al. 2016, J Med Entomol 53:639)",
)
"""Share of units whose people report nothing, whatever they have."""
OF_NOTHING = judged(
    1.0,
    0.2,
    5.0,
    "times the usual",
    "judgement: no study of how buildings differ; 7 of 22 inspected reports were not confirmed (Wu et al. "
    "2014, doi 10.4269/ajtmh.13-0714), and a notice on the door or other biting insects may do much",
)
"""How often a unit without bugs is reported, against the usual: between buildings."""
NEVER_FACTOR = 0.02
"""Readiness of such a unit, against one that reports: a neighbour or the staff may speak for it."""
RESISTS = Sourced(
    0.31,
    0.11,
    0.55,
    "share of units",
    "joint fit of 2026 (docs/evidence.md); seen: 6 of 9 units were not clear after 6 months of visits (Singh "
    "et al. 2013, Insects 4:731), 6 of 10 and 7 of 11 (Abbar et al. 2020, Insects 11:443); how many of them "
    "only needed time is not known",
    "C",
    "fitted",
)
"""Share of units in which treatment does far less than elsewhere."""
RESIST_EFFECT = 0.3
"""Part of a treatment's effect that such a unit gets (judgement)."""
STARTS_CLEAR_OF = 20.0
"""Units' worth of experience in the share infested at the start (judgement; 2 to 12 % around 5 %)."""
PEOPLE = judged(
    0.4, 0.1, 1.0, "standard deviation of log odds of a find", "judgement: no study of single inspectors"
)
"""How much people differ in what they find with one method."""


def odds_width(method: str) -> float:
    """Return the standard deviation of a method's log odds of a find between buildings, from its range."""
    row = LOOKING[method].sensitivity
    spans = [_log_odds(number.high) - _log_odds(number.low) for number in row]
    return mean(spans) / _SPAN


def report_widths() -> tuple[float, float]:
    """Return the standard deviations of the log readiness to report: light, then heavy infestations."""
    logs = [math.log(number.high / number.low) / _SPAN for number in detection.REPORT_CHANCE[1:]]
    return mean(logs[:2]), mean(logs[2:])


def nothing_width() -> float:
    """Return the standard deviation of the log of how often clear units are reported, from the range."""
    return math.log(OF_NOTHING.high / OF_NOTHING.low) / _SPAN


def false_alert_width() -> float:
    """Return the standard deviation of a dog team's log odds of a false alert, from the range."""
    number = false_finds.ALERT
    return (_log_odds(number.high) - _log_odds(number.central)) / (_SPAN / 2)


def _log_odds(p: float) -> float:
    p = min(max(p, 0.02), 0.98)
    return math.log(p / (1.0 - p))

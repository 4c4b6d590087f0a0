"""What a door costs: the chance that nobody opens, learned from its records, and the minutes of a visit."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from spread.decisions.doors.looking import chances_of_yes
from spread.decisions.standing import Standing
from spread.decisions.view import View
from spread.facts import Fact
from spread.posterior.dynamics import Floats
from spread.records.kinds import Record
from spread.trade import detection, minutes
from spread.trade.pace import Pace
from spread.trade.registry import LOOKING, MONITORS

_ENTERED = ("inspection", "monitor", "treatment")  #: Kinds of record that prove that somebody opened


@dataclass(frozen=True)
class Effort:
    """Minutes of each unit for one method, in the order of the view's units; every array has shape (N,)."""

    method: str  #: A method of looking; ``dog`` is the dog and, on an alert, a brief look that confirms it
    opens: Floats  #: Chance that somebody opens
    #: Expected minutes of the next visit: the knock, and if somebody opens the look, or the setting up of a
    #: monitor
    visit: Floats
    longest: Floats  #: Minutes of that visit if the door opens and everything is needed
    #: Expected minutes until there is an answer. A monitor takes two visits, and the check is tried until
    #: somebody opens, so that two knocks are expected in all.
    whole: Floats


@dataclass(frozen=True, slots=True)
class Tries(Fact):
    """Days of one household on which somebody was let in or not."""

    let_in: int
    shut: int  #: Nobody home, or refused
    refused: int  #: Refused since somebody was last let in


def shut_chance(records: Sequence[Record], standing: Standing, pace: Pace) -> float:
    """Return the chance that nobody opens at the next visit.

    A Beta prior (mean ``pace.no_access``, weight ``pace.no_access_visits``) is updated by the days on
    which somebody was let in or not. Beside it a household may refuse whoever knocks, with the chance
    :data:`spread.trade.minutes.REFUSES` before anything is known: refusals since somebody was last let in
    speak for that, as they would be rarer elsewhere. Days before the last move-in count no longer. A vacant
    unit is opened with the office's key (common practice, no source), so its chance is 0.

    ``records``: the unit's current records up to the day; ``standing``: where the unit stands on the day;
    ``pace``: the prior.
    """
    if standing.vacant:
        return 0.0
    tried = tries(records, standing)
    prior, weight = pace.no_access * pace.no_access_visits, pace.no_access_visits + tried.let_in
    shut = (prior + tried.shut) / (weight + tried.shut)
    usual = math.prod((prior + k) / (weight + k) for k in range(tried.refused))
    hard = minutes.REFUSES.central if tried.refused else 0.0
    hard /= hard + (1.0 - hard) * usual
    return hard + (1.0 - hard) * shut


def tries(records: Sequence[Record], standing: Standing) -> Tries:
    """Return on how many days somebody was let in or not since the last move-in.

    ``records``, ``standing``: as in :func:`shut_chance`.
    """
    since = standing.moved_in
    rows = [row for row in records if since is None or row.when >= since]
    entered = {row.when for row in rows if row.kind in _ENTERED}
    # A day with both is two visits: nobody at first, let in later.
    shut = {row.when for row in rows if row.kind == "no-access"}
    last = max(entered, default=dt.date.min)
    refused = {row.when for row in rows if row.method == "refused" and row.when > last}
    return Tries(len(entered), len(shut), len(refused))


def opening_chances(view: View, pace: Pace) -> Floats:
    """Return the chance that somebody opens, shape (N,)."""
    return np.array(
        [
            1.0 - view.log.worked_out(unit, view.on, shut_chance, view.standings[unit], pace)
            for unit in view.network.units
        ]
    )


def effort_of(view: View, method: str, pace: Pace) -> Effort:
    """Return what a visit to each unit costs by one method; see :class:`Effort`.

    ``method``: how the technician looks; ``pace``: minutes of the building. Raises SpreadError for an unknown
    method.
    """
    opens = opening_chances(view, pace)
    in_unit = look_minutes(method, pace)
    confirm = LOOKING[method].confirmed_by
    alert = alert_chance(view, method) if confirm else np.zeros_like(opens)
    first = np.full_like(opens, pace.set_up.get(method, in_unit))
    after = pace.look[confirm] if confirm else 0.0
    visit = pace.knock + opens * (first + alert * after)
    longest = pace.knock + first + after
    whole = visit
    if method in MONITORS:
        whole = 2.0 * pace.knock + opens * pace.look[method]
    return Effort(method, opens, visit, longest, whole)


def look_minutes(method: str, pace: Pace) -> float:
    """Return the minutes in the unit; the dog's alone for a dog."""
    if method not in LOOKING:
        detection.sensitivity(method)  # says which methods there are
    return pace.look[method]


def alert_chance(view: View, method: str) -> Floats:
    """Return the chance of a dog's alert in each unit, false alerts in clear units included, shape (N,)."""
    return np.asarray((view.posterior.levels * chances_of_yes(view, method)).sum(axis=1))

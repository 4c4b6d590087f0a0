"""The building's past: bands of weighted draws, and when the first infestation began."""

from dataclasses import replace

import numpy as np
import pytest
from buildings import ON, view_of

from spread.decisions.doors.learned import quantiles
from spread.decisions.past import past_of, weekly_chances
from spread.weeks import monday_of, week_of
from spread.words import ENGLISH
from spread.words.learned import past_words

WEEKS = 26
FIRST = week_of(ON) - WEEKS + 1


def view_with(totals, *, now=None, log_weights=None):
    """A view whose draws had ``totals`` (K, T); their last week is ``now`` units infested each."""
    view = view_of()
    totals = np.array(totals, dtype=np.int32)
    now = totals[:, -1] if now is None else np.array(now)
    draws = (np.arange(view.network.size) < now[:, None]).astype(np.int8)
    weights = np.zeros(len(totals)) if log_weights is None else np.array(log_weights)
    return replace(view, posterior=replace(view.posterior, totals=totals, draws=draws, log_weights=weights))


def rising(starts):
    """One draw a start: no unit before that week, one from then on; None for never."""
    return [[int(start is not None and t >= start) for t in range(WEEKS)] for start in starts]


def test_bands_are_quantiles_of_the_draws():
    """Twenty draws of 1 to 20 units: the 5, 25, 50, 75 and 95 % points by hand (inverse of the steps)."""
    past = past_of(view_with([[k] * WEEKS for k in range(1, 21)], now=[3] * 20))
    week = past.weeks[0]
    assert (week.low, week.lower, week.median, week.upper, week.high) == (1, 5, 10, 15, 19)
    assert len(past.weeks) == WEEKS
    assert past.weeks[0].monday == monday_of(FIRST).isoformat()
    assert past.weeks[-1].monday == monday_of(week_of(ON)).isoformat()


def test_quantiles_agree_with_numpy():
    """numpy's method 'inverted_cdf' with weights is an outside reading of the same definition."""
    rng = np.random.default_rng(5)
    values, weights = rng.normal(size=300), rng.random(300)
    points = (0.05, 0.25, 0.5, 0.75, 0.95)
    expected = np.quantile(values, points, method="inverted_cdf", weights=weights)
    assert quantiles(values, weights / weights.sum(), points) == pytest.approx(expected)


def test_the_last_week_is_as_the_draws_are_now():
    past = past_of(view_with([[2] * WEEKS] * 10, now=[5] * 10))
    assert past.weeks[-2].median == 2
    assert past.weeks[-1].median == 5
    assert past_words(past, ENGLISH)[0] == "Infested now: about 5 units (90% sure: 5 to 5)."


def test_reweighted_draws_count_by_their_weight():
    heavy = [0.0] * 9 + [np.log(91.0)]
    past = past_of(view_with([[1] * WEEKS] * 9 + [[7] * WEEKS], log_weights=heavy))
    assert past.weeks[0].median == 7
    assert past.weeks[0].low == 1


def test_the_first_infestation_is_dated_among_the_draws_that_have_one():
    past = past_of(view_with(rising([4] * 10 + [12] * 8 + [None] * 2)))
    assert past.none == pytest.approx(0.1)
    assert past.before == 0.0
    assert past.first.median == monday_of(FIRST + 4)
    assert past.first.high == monday_of(FIRST + 12)
    assert past_words(past, ENGLISH)[-1] == "Chance that no unit was infested in any week: 10%."
    assert "began if there was one about Mon 18 Dec 2023" in past_words(past, ENGLISH)[-2]


def test_an_infestation_from_before_the_window_is_said_to_be_one():
    past = past_of(view_with(rising([0] * 7 + [9] * 3)))
    assert past.before == pytest.approx(0.7)
    assert past.first.median is None
    assert past_words(past, ENGLISH)[-1] == (
        "Some unit was infested before Mon 20 Nov 2023, when the window begins (chance 70%)."
    )


def test_a_past_without_any_infestation_says_so():
    past = past_of(view_with(rising([None] * 10)))
    assert past.first is None
    assert past.none == pytest.approx(1.0)
    assert past_words(past, ENGLISH)[-1] == "Chance that no unit was infested in any week: >99%."


def test_without_totals_there_is_no_past_and_chances_are_by_unit_and_week():
    assert past_of(view_of()) is None
    chances = weekly_chances(view_of(chances={"101": 0.4}))
    assert chances["101"] == [0.4] * WEEKS

"""What the log taught of the rates: compared with the prior honestly, and in words."""

import math
from dataclasses import replace

import numpy as np
import pytest
from buildings import view_of
from scipy import stats

from spread.decisions.doors.learned import SAME, overlap, what_was_learned
from spread.posterior.observations import Conditions
from spread.trade.priors import often, rate_priors
from spread.trade.routes import ROUTES
from spread.words import ENGLISH, say
from spread.words.learned import learned_words

K = 4000
EQUAL = np.full(K, 1 / K)
SHAPES, RATES = (np.array(part) for part in rate_priors())


def from_prior(seed=3):
    rng, (chance, shape, rate) = np.random.default_rng(seed), often()
    drawn = rng.gamma(SHAPES, 1 / RATES, size=(K, len(SHAPES)))
    other = rng.random(K) < chance
    drawn[other, -1] = rng.gamma(shape, 1 / rate, size=other.sum())
    return drawn


def view_with(rates, levels=None, **more):
    view = view_of()
    draws = np.zeros((len(rates), view.network.size), dtype=np.int8)
    for unit, level in (levels or {}).items():
        draws[:, view.network.index[unit]] = level
    posterior = replace(view.posterior, rates=rates, draws=draws, log_weights=np.zeros(len(rates)), **more)
    return replace(view, posterior=posterior)


def test_the_overlap_is_the_shared_area_of_two_densities():
    """By scipy: the area under the smaller of two Gamma densities, by quadrature on a fine grid."""
    shape, rate = 3.0, 100.0
    for other, scale in ((3.0, 100.0), (3.0, 50.0), (12.0, 400.0)):
        draws = stats.gamma.rvs(other, scale=1 / scale, size=40_000, random_state=2)
        x = np.linspace(0, 0.5, 200_001)
        both = np.minimum(
            stats.gamma.pdf(x, shape, scale=1 / rate), stats.gamma.pdf(x, other, scale=1 / scale)
        )
        expected = float(both.sum() * (x[1] - x[0]))
        assert overlap(draws, np.full(40_000, 1 / 40_000), shape, rate) == pytest.approx(expected, abs=0.03)


def test_draws_of_the_prior_have_taught_nothing_and_it_is_said():
    learned = what_was_learned(view_with(from_prior()))
    assert all(rate.overlap > 0.95 for rate in learned.rates)
    assert not any(rate.learned for rate in learned.rates)
    assert learned_words(learned, ENGLISH)[-1] == (
        "What people bring in, visits, laundry and lounges, walls, floors and ceilings, risers, hallways and "
        "move-ins: the log cannot tell yet; these are the general experience."
    )
    for comparison in learned.comparisons:
        assert comparison.sure == pytest.approx(comparison.sure_before, abs=0.03)
        assert "In this building" not in say(comparison, ENGLISH)


def test_a_rate_that_the_log_moved_is_said_to_be_moved():
    rates = from_prior()
    rates[:, 2 + ROUTES.index("hallway")] = np.random.default_rng(1).gamma(40, 0.02 / 40, size=K)
    learned = what_was_learned(view_with(rates))
    hallway = next(rate for rate in learned.rates if rate.name == "hallway")
    assert hallway.learned
    assert hallway.overlap < SAME
    # Median 0.0198 by scipy against the prior's 0.0041: 4.8 times.
    assert hallway.posterior.median == pytest.approx(stats.gamma.median(40, scale=0.02 / 40), rel=0.02)
    assert say(hallway, ENGLISH) == "Hallways: about five times as much as in general experience."
    first = learned.comparisons[0]
    assert (first.more, first.learned) == ("hallway", True)
    assert say(first, ENGLISH).startswith("In this building hallways matter more than ")
    assert first.sure > first.sure_before


def test_routes_are_compared_by_what_a_typical_unit_gives_off_by_them():
    rates = from_prior()
    view = view_with(rates)
    reaches = view.network.exposure.sum(axis=0) / view.network.size
    for comparison in what_was_learned(view).comparisons:
        a, b = ROUTES.index(comparison.more), ROUTES.index(comparison.less)
        by_hand = np.mean(rates[:, 2 + a] * reaches[a] > rates[:, 2 + b] * reaches[b])
        assert comparison.sure == pytest.approx(by_hand)


def test_routes_that_the_building_lacks_are_not_spoken_of():
    learned = what_was_learned(view_with(from_prior()))
    assert "link" not in {rate.name for rate in learned.rates}
    assert "link" not in learned.new_per_year
    assert not any("by hand" in words for words in learned_words(learned, ENGLISH))


def test_what_is_brought_in_is_for_the_whole_building_and_a_year():
    learned = what_was_learned(view_with(from_prior()))
    # By hand: the median of the prior, 0.0011 a unit and week, over 12 units and 365.25 / 7 weeks.
    assert learned.brought_in_per_year.median == pytest.approx(0.0011 * 12 * 365.25 / 7, rel=0.06)
    assert learned.brought_in_per_year.low < learned.brought_in_per_year.median


def test_new_infestations_a_year_are_the_hazards_of_today_added_up():
    """One heavy unit, all else clear: exposure out of it times the rate, 52.18 weeks (by hand)."""
    rates = np.tile(np.array([0.0004, 0.003, 0.008, 0.0056, 0.00125, 0.0047, 0.0, 0.019]), (K, 1))
    rates *= np.linspace(0.999, 1.001, K)[:, None]
    view = view_with(rates, {"103": 4})
    learned = what_was_learned(view)
    year = 365.25 / 7
    for route, rate in zip(("wall", "floor", "riser", "hallway"), rates.mean(axis=0)[2:6], strict=True):
        out = sum(
            data["exposure"] for *_, data in view.graph.edges("103", data=True) if data["route"] == route
        )
        assert learned.new_per_year[route].median == pytest.approx(rate * out * year, rel=1e-3), route
    assert learned.new_per_year["brought in"].median == pytest.approx(0.0004 * 11 * year, rel=1e-3)
    assert learned.new_per_year["building-wide"].median == pytest.approx(0.003 * 11 / 12 * year, rel=1e-3)


def test_an_infested_neighbour_cannot_be_newly_infested_and_an_empty_one_is_less_open():
    rates = np.tile(np.array([0.0004, 0.003, 0.008, 0.0056, 0.00125, 0.0047, 0.0, 0.019]), (K, 1))
    rates *= np.linspace(0.999, 1.001, K)[:, None]
    alone = what_was_learned(view_with(rates, {"101": 4})).new_per_year["wall"].median
    beside = what_was_learned(view_with(rates, {"101": 4, "103": 1})).new_per_year["wall"].median
    assert alone > 0
    assert beside < alone
    n = view_of().network.size
    half = Conditions(np.zeros(n, bool), np.full(n, 0.0004), np.full(n, 0.5), np.ones(n))
    empty = what_was_learned(view_with(rates, {"101": 4}, conditions=half)).new_per_year["wall"].median
    assert empty == pytest.approx(alone / 2)


def test_held_rates_have_taught_nothing():
    assert what_was_learned(view_of()) is None
    assert what_was_learned(view_with(np.tile(SHAPES / RATES, (K, 1)))) is None


def test_every_sentence_ends_and_nothing_reads_as_certain():
    rates = from_prior()
    rates[:, 2] *= 50
    for words in learned_words(what_was_learned(view_with(rates)), ENGLISH):
        assert words.endswith(".")
        assert "100%" not in words
        assert not math.isnan(0.0)

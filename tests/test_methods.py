"""Which method next: sums by hand, printed predictive values, and scipy's entropy."""

import numpy as np
import pytest
from buildings import ON, clear, row, view_of
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import entropy

from benchmarks.worth import worth_of_looking
from spread.decisions.doors.benefit import weeks_averted
from spread.decisions.doors.choice import (
    CHOICES,
    averted_after,
    finds_and_worth,
    outcomes,
    rank_methods,
    settled_bits,
    weeks_until_answer,
)
from spread.decisions.doors.usual import usual_of
from spread.errors import SettingsError
from spread.report.round_text import methods_data, methods_text
from spread.trade.pace import Pace
from spread.trade.registry import LOOKING
from spread.words import ENGLISH, say


def method(view, units, name, **more):
    return next(found for found in rank_methods(view, units, **more) if found.method == name)


def given_outcome(chance, outcome, level=2):
    """Bayes' rule by hand for a unit that is clear or at one level."""
    return chance * outcome[level] / (chance * outcome[level] + (1 - chance) * outcome[0])


def test_what_a_dog_says_has_the_printed_predictive_values():
    """Prevalence 12.3 %, sensitivity .44, false alerts .15: PPV .2915 and NPV .9154.

    Worked from Cooper et al. 2014 (doi 10.1603/EC14195) and Wang et al. 2016 (J Med Entomol 53:639).
    """
    confirmed, unconfirmed, silent = outcomes("dog")[0]
    assert given_outcome(0.123, confirmed + unconfirmed) == pytest.approx(0.2915, abs=1e-4)
    assert 1 - given_outcome(0.123, silent) == pytest.approx(0.9154, abs=1e-4)


def test_a_dog_finds_only_what_a_look_confirms():
    """Two tests in series: sensitivities multiply where they err independently (Gordis, from memory)."""
    chances, found = outcomes("dog")
    np.testing.assert_allclose((found @ chances)[1:], 0.44 * np.array([0.27, 0.57, 0.83, 0.98]))


@pytest.mark.parametrize("name", tuple(LOOKING))
def test_the_outcomes_of_every_method_are_all_there_is(name):
    chances, found = outcomes(name)
    np.testing.assert_allclose(chances.sum(axis=0), 1.0)
    assert found.sum() == 1


def test_a_brief_look_is_worth_what_looking_is_worth():
    view = view_of(chances={"204": 0.4})
    finds, worth = finds_and_worth(view, "brief-visual")
    np.testing.assert_allclose(worth, worth_of_looking(view, "brief-visual").expected)
    assert finds[view.network.index["204"]] == pytest.approx(0.4 * 0.57 * 0.9), "one in ten ends unsure"


def test_the_figures_of_a_method_can_be_added_up_by_hand():
    view = view_of(chances={"204": 0.2})
    brief = method(view, ["204"], "brief-visual")
    averted = weeks_averted(
        view.network,
        view.dynamics,
        clear=1 - view.posterior.chance,
        usual=usual_of(view),
        costs=view.week_costs,
    )
    i = view.network.index["204"]
    assert brief.finds == pytest.approx(0.8 * 0.2 * 0.57 * 0.9)
    assert brief.minutes == pytest.approx(3 + 0.8 * 10)
    assert brief.worth == pytest.approx(0.8 * 0.2 * 0.57 * 0.9 * averted[i, 2])
    assert brief.per_minute == pytest.approx(brief.worth / brief.minutes)
    # Bayes by hand: 0.2 * 0.43 missed against 0.8 * 0.995 rightly clear.
    assert brief.chance_if_nothing == pytest.approx(0.086 / (0.086 + 0.8 * 0.995))
    monitor = method(view, ["204"], "interceptors")
    assert monitor.finds == pytest.approx(0.8 * 0.2 * 0.79)
    assert monitor.minutes == pytest.approx(6 + 0.8 * 15)
    assert monitor.chance_if_nothing == pytest.approx(0.042 / (0.042 + 0.8 * 0.99))
    assert (monitor.visits, monitor.days) == (2, 14)
    assert (brief.visits, brief.days) == (1, 0)
    assert "from 20% to 5%" in say(monitor, ENGLISH)


def test_treating_two_weeks_later_averts_less_by_the_hand_recursion():
    """One unit and level written out: it must still be there and not found, at the level it has then."""
    view = view_of(chances={"204": 0.4})
    usual = usual_of(view)
    told = {"clear": 1 - view.posterior.chance, "usual": usual, "costs": view.week_costs}
    later = weeks_averted(view.network, view.dynamics, horizon=24, **told)
    i, growth = view.network.index["204"], view.dynamics.growth[0]
    known = usual.known[i]
    by_hand = sum(
        (1 - known[2]) * growth[2, b] * (1 - known[b]) * growth[b, c] * later[i, c]
        for b in range(1, 5)
        for c in range(1, 5)
    )
    assert averted_after(view, 2)[i, 2] == pytest.approx(by_hand)
    now = averted_after(view, 0)
    np.testing.assert_allclose(now, weeks_averted(view.network, view.dynamics, **told))
    assert (averted_after(view, 2)[:, 1:] < now[:, 1:]).all()
    assert (averted_after(view, 30) == 0).all(), "after the horizon nothing counts"
    assert [weeks_until_answer(m) for m in ("interceptors", "dog", "lure-trap")] == [2, 0, 0]


def test_what_is_settled_is_the_mutual_information():
    """Outside source: scipy's entropy; H(state) + H(outcome) - H(both)."""
    levels = np.array([[0.8, 0.05, 0.1, 0.03, 0.02]])
    for name in tuple(LOOKING):
        chances, _ = outcomes(name)
        clear_or_not = np.stack([chances[:, 0] * 0.8, chances[:, 1:] @ levels[0, 1:]])
        wanted = (
            entropy([0.8, 0.2], base=2)
            + entropy(clear_or_not.sum(axis=0), base=2)
            - entropy(clear_or_not.ravel(), base=2)
        )
        assert settled_bits(levels, chances)[0] == pytest.approx(wanted)


def test_a_method_that_tells_nothing_settles_nothing():
    levels = np.array([[0.7, 0.0, 0.3, 0.0, 0.0]])
    assert settled_bits(levels, np.full((2, 5), 0.5))[0] == 0.0
    # And one that never errs settles everything.
    sure = np.array([[0.0, 1, 1, 1, 1], [1.0, 0, 0, 0, 0]])
    assert settled_bits(levels, sure)[0] == pytest.approx(entropy([0.7, 0.3], base=2))


def test_a_set_adds_up_and_each_unit_counts_once():
    view = view_of([row("101", 9, "no-access"), clear("204", 9)], {"204": 0.2, "101": 0.4})
    for name in CHOICES:
        one, two = method(view, ["204"], name), method(view, ["101"], name)
        both = method(view, ["101", "204", "101"], name)
        for figure in ("finds", "worth", "minutes", "settled"):
            assert getattr(both, figure) == pytest.approx(getattr(one, figure) + getattr(two, figure))
        assert both.chance == pytest.approx(0.3)


def test_methods_are_listed_by_worth_per_minute_and_the_minutes_can_turn_the_order():
    view = view_of(chances={"204": 0.2}, level=1)
    rows = rank_methods(view, ["204"])
    assert sorted(r.method for r in rows) == sorted(CHOICES)
    rates = [r.per_minute for r in rows]
    assert rates == sorted(rates, reverse=True)
    slow = Pace().with_look({"brief-visual": 90.0})
    assert rank_methods(view, ["204"], slow)[0].method != "brief-visual"


def test_a_dogs_silence_is_never_called_clear_and_words_say_so():
    dog = method(view_of(chances={"204": 0.2}), ["204"], "dog")
    assert say(dog, ENGLISH).endswith("that clears nothing.")
    assert 0.05 < dog.chance_if_nothing < 0.2


@pytest.mark.parametrize(("units", "words"), [((), "no unit is named"), (("999",), "there is no unit '999'")])
def test_an_unknown_unit_or_none_gets_one_sentence(units, words):
    with pytest.raises(SettingsError) as caught:
        rank_methods(view_of(), units)
    assert words in str(caught.value)


def test_text_and_json_say_the_same():
    rows = rank_methods(view_of(chances={"204": 0.2}), ["204"])
    text = methods_text(rows, ["204"], "Maple Row", ON)
    data = methods_data(rows, ["204"], "Maple Row", ON)
    assert [m["method"] for m in data["methods"]] == [r.method for r in rows]
    assert text.startswith("204 in Maple Row, Wed 15 May 2024")
    assert "What settles most: interceptors" in text


@settings(max_examples=40, deadline=None)
@given(st.lists(st.floats(0.001, 1.0), min_size=5, max_size=5), st.sampled_from(tuple(LOOKING)))
def test_looking_never_unsettles_and_never_tells_more_than_there_is(weights, name):
    levels = np.array([weights]) / sum(weights)
    bits = settled_bits(levels, outcomes(name)[0])[0]
    assert 0.0 <= bits <= entropy([levels[0, 0], 1 - levels[0, 0]], base=2) + 1e-9

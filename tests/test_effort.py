"""Minutes of a door and the chance that it stays shut, each sum done by hand.

The minutes and priors themselves are judgement with their basis in ``spread/trade/minutes.py``.
"""

import pytest
from buildings import ON, clear, find, report, row, treatment, view_of
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from spread.decisions.doors.effort import effort_of, opening_chances, shut_chance
from spread.decisions.standing import standing_of
from spread.errors import SpreadError
from spread.trade.pace import Pace


def shut(*rows, pace=None):
    return shut_chance(rows, standing_of(rows, ON), pace or Pace())


def test_before_anything_is_known_one_door_in_five_stays_shut():
    assert shut() == 0.20


def test_the_chance_of_a_shut_door_is_the_mean_of_a_beta_distribution_after_its_visits():
    """Outside source: the mean of Beta(1 + shut, 4 + open) by scipy; the prior is Beta(1, 4)."""
    rows = [row("101", 40, "no-access", "nobody-home"), row("101", 30, "no-access"), clear("101", 20)]
    assert shut(*rows) == pytest.approx(stats.beta(1 + 2, 4 + 1).mean())
    assert shut(*[row("101", ago, "no-access") for ago in (50, 40, 30, 20)]) == pytest.approx(5 / 9)


def test_looks_monitors_and_treatments_prove_that_somebody_opened_and_reports_do_not():
    monitor = row("101", 9, "monitor", "interceptors", "no", days=14)
    assert shut(clear("101", 20), treatment("101", 10), monitor) == pytest.approx(1 / 8)
    assert shut(report("101", 20), row("101", 10, "note", note="x")) == pytest.approx(1 / 5)


def test_two_things_done_on_one_visit_are_one_visit():
    assert shut(find("101", 20), treatment("101", 20)) == pytest.approx(1 / 6)
    assert shut(row("101", 20, "no-access"), clear("101", 20)) == pytest.approx(2 / 7), "came back later"


def test_what_happened_before_the_last_move_in_counts_no_longer():
    before = [row("101", ago, "no-access") for ago in (80, 70, 60)]
    moved = row("101", 50, "turnover", "moved-in")
    assert shut(*before, moved) == pytest.approx(0.20)
    assert shut(*before, moved, row("101", 3, "no-access")) == pytest.approx(2 / 6)


def test_the_key_of_the_office_opens_a_vacant_unit():
    assert shut(row("101", 90, "no-access"), row("101", 5, "turnover", "moved-out")) == 0.0


def test_records_of_days_to_come_are_not_known_yet():
    view = view_of([row("101", -3, "no-access"), row("102", 3, "no-access")])
    opens = opening_chances(view, Pace())
    assert opens[view.network.index["101"]] == pytest.approx(0.8)
    assert opens[view.network.index["102"]] == pytest.approx(1 - 2 / 6)


def test_a_look_costs_the_knock_and_if_somebody_opens_the_look():
    effort = effort_of(view_of(), "brief-visual", Pace())
    assert effort.visit == pytest.approx(3 + 0.8 * 10)
    assert effort.whole == pytest.approx(3 + 0.8 * 10)
    assert effort.longest == pytest.approx(13)
    assert effort_of(view_of(), "thorough-visual", Pace()).visit == pytest.approx(3 + 0.8 * 40)


def test_a_monitor_costs_two_visits_of_which_the_round_sees_the_first():
    effort = effort_of(view_of(), "interceptors", Pace())
    assert effort.visit == pytest.approx(3 + 0.8 * 10), "10 of the 15 minutes set it up"
    # The check is knocked for 1 / 0.8 times on average, and only where it was set up: 0.8 of the doors.
    assert effort.whole == pytest.approx(3 + 0.8 * (10 + 3 / 0.8 + 5))


def test_a_dog_costs_a_brief_look_more_where_it_alerts():
    view = view_of(chances={"101": 0.5}, otherwise=0.0)
    effort = effort_of(view, "dog", Pace())
    # Alerts by hand: 0.44 of infested and 0.15 of clear units (Cooper et al. 2014, doi 10.1603/EC14195).
    at = view.network.index
    assert effort.visit[at["101"]] == pytest.approx(3 + 0.8 * (5.5 + (0.5 * 0.44 + 0.5 * 0.15) * 10))
    assert effort.visit[at["102"]] == pytest.approx(3 + 0.8 * (5.5 + 0.15 * 10))
    assert effort.longest == pytest.approx(3 + 5.5 + 10)


def test_every_minute_can_be_changed():
    pace = Pace(knock=2.0, no_access=0.5, no_access_visits=2.0).with_look(
        {"brief-visual": 20.0, "interceptors": 30.0}
    )
    assert effort_of(view_of(), "brief-visual", pace).visit == pytest.approx(2 + 0.5 * 20)
    assert effort_of(view_of(), "interceptors", pace).visit == pytest.approx(2 + 0.5 * 20)
    assert pace.look["thorough-visual"] == 40.0


def test_an_unknown_method_is_said_to_be_unknown():
    with pytest.raises(SpreadError, match="'magic' is not known"):
        effort_of(view_of(), "magic", Pace())


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 30), st.integers(0, 30), st.floats(0.01, 0.99), st.floats(0.5, 50))
def test_a_shut_door_makes_the_next_one_likelier_and_an_open_one_less_likely(closed, opened, prior, weight):
    pace = Pace(no_access=prior, no_access_visits=weight)
    rows = [row("101", 200 + k, "no-access") for k in range(closed)]
    rows += [clear("101", 100 + k) for k in range(opened)]
    now = shut(*rows, pace=pace)
    assert 0.0 < now < 1.0
    assert shut(*rows, row("101", 1, "no-access"), pace=pace) > now
    assert shut(*rows, clear("101", 1), pace=pace) < now

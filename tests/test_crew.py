"""Trips, crew-days, and a crew that has only so many days a week."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from spread.contacts.graph import build_contacts
from spread.posterior.dynamics import central_dynamics, network_of
from spread.programmes import columns as c
from spread.programmes import rules as r
from spread.programmes.begin import begin_from
from spread.programmes.books import books_of
from spread.programmes.choice import choice_of
from spread.programmes.crew import crew_days, crew_minutes, with_trips
from spread.programmes.kept import new_kept
from spread.programmes.money import Prices, costs
from spread.programmes.programme import Programme, Ranked, Survey
from spread.programmes.rules import encode
from spread.programmes.run import Runs, RunSettings, Simulated, run_jobs
from spread.programmes.tables import tables_of
from spread.trade.pace import Pace
from spread.words import ENGLISH
from spread.words.choice import choice_lines
from tests.small import made_plan

NETWORK = network_of(build_contacts(made_plan(floors=2, a_side=6)))
UNITS, WEEKS, RUNS = NETWORK.size, 16, 60
NO_RING = (np.zeros(UNITS + 1, np.int64), np.zeros(0, np.int64))
SURVEY = Programme("survey", "", complaint=None, survey=Survey(1000, 1, method="brief-visual"), notice=False)


def ran(programme, *, days=0.0, infested=0, day_hours=6.5):
    """Run a programme in a building where everybody opens and nothing is brought in."""
    dynamics = central_dynamics(prevalence=0.1)
    levels = np.zeros((RUNS, UNITS), np.int8)
    levels[:, :infested] = 3
    still = np.zeros(2 + NETWORK.exposure.shape[1])
    begin = begin_from(
        NETWORK, levels=levels, rates=np.tile(still, (RUNS, 1)), mean_rates=still,
        belief=np.full((UNITS, 5), 0.2), shut=0.0, refuses=0.0, leave=0.0,
    )  # fmt: skip
    prices = Prices(crew_days_a_week=days, day_hours=day_hours)
    settings = RunSettings(WEEKS, RUNS, crew_minutes=crew_minutes(prices))
    jobs = [(programme, *encode(programme, Pace(), None, settings.crew_minutes), NO_RING)]
    tables = tables_of(dynamics)
    found = tables.found.copy()
    found[:, 0] = 0.0
    tables = tables._replace(found=found, unsure=np.zeros_like(found))
    return run_jobs(jobs, begin, tables, settings).runs[0]


def test_eighty_eight_visits_in_a_week_are_as_many_trips_as_their_minutes_take():
    """88 knocks of 3 and looks of 10 minutes are 1,144 minutes: three days of 390."""
    kept = new_kept(1, 2)
    kept.visits[0, 0] = 88
    kept.counts[0, c.KNOCKS] = 88
    kept.counts[0, c.LOOKS + c.METHODS.index("brief-visual")] = 88
    kept.counts[0, c.TRIPS] = 1
    prices = Prices(
        knock=3.0, look=dict.fromkeys(Prices().look, 10.0), fee=dict.fromkeys(Prices().fee, 0.0), trip=30.0,
        trip_fee=7.0, hour=60.0,
    )  # fmt: skip
    assert crew_days(kept, prices).tolist() == [[3.0, 0.0]]
    assert crew_days(kept, replace(prices, crew=2.0)).tolist() == [[2.0, 0.0]]
    one, two = (costs(with_trips(kept, p), p)[0] for p in (prices, replace(prices, crew=2.0)))
    travel = -1
    assert one[travel] == 3 * (30 + 7)
    assert two[travel] == 2 * (2 * 30 + 7), "both are on the way"
    assert one[:travel].tolist() == two[:travel].tolist()


@given(
    st.lists(st.integers(0, 120), min_size=3, max_size=3),
    st.lists(st.integers(0, 120), min_size=3, max_size=3),
    st.floats(0.5, 24.0),
)
def test_more_visits_are_never_fewer_crew_days_nor_less_money(visits, more, day_hours):
    def with_visits(made):
        kept = new_kept(1, 3)
        kept.visits[0] = made
        kept.treated[0] = np.minimum(made, 5)
        kept.counts[0, c.KNOCKS] = sum(made)
        kept.counts[0, c.LOOKS] = sum(made)
        kept.counts[0, c.TREATED] = kept.treated.sum()
        return kept

    few, many = with_visits(visits), with_visits(np.add(visits, more))
    prices = Prices(day_hours=day_hours)
    days = crew_days(few, prices)
    assert (days <= crew_days(many, prices)).all()
    assert ((days > 0) == (few.visits > 0)).all()
    assert costs(with_trips(few, prices), prices).sum() <= costs(with_trips(many, prices), prices).sum()
    whole = crew_days(few, replace(prices, day_hours=1e9))
    assert (whole == (few.visits > 0)).all(), "a day without end is one trip a week with visits"


def test_a_crew_without_end_changes_nothing_bit_for_bit():
    for programme in (SURVEY, replace(SURVEY, survey=None, ranked=Ranked(doors=6))):
        free, ample = (ran(programme, days=days, infested=4).kept for days in (0.0, 1000.0))
        for one, other in zip(free, ample, strict=True):
            assert np.array_equal(one, other)


def test_what_a_week_has_no_days_for_is_carried_over_and_no_visit_is_lost():
    free, full = ran(SURVEY).kept, ran(SURVEY, days=0.5).kept
    assert (free.visits[:, 0] == UNITS).all()
    assert (full.visits.sum(axis=1) == UNITS).all()
    need = Pace().knock + Pace().look["brief-visual"]
    a_week = int(0.5 * 6.5 * 60 // need)
    assert a_week < UNITS
    assert (full.visits[:, 0] == a_week).all()
    assert full.visits.max() == a_week
    waiting = [UNITS - a_week * week for week in range(1, WEEKS) if a_week * week < UNITS]
    assert (full.counts[:, c.PUT_OFF] == sum(waiting)).all()
    assert (free.counts[:, c.PUT_OFF] == 0).all()
    prices = Prices()
    assert (crew_days(full, prices) <= 1.0).all()


def test_courses_go_before_planned_looks_and_a_ranked_door_is_not_kept_waiting():
    ranked = Programme("r", "", complaint=None, ranked=Ranked(doors=12), notice=False)
    full = ran(ranked, days=0.1, infested=UNITS).kept
    assert (full.visits[:, 0] >= 1).all(), "a visit is made however little time there is"
    # Every week asks for twelve at most besides courses; a queue that grew would put off far more.
    assert full.counts[:, c.PUT_OFF].max() < WEEKS * (12 + full.known.max())
    treating = full.treated.sum(axis=1)
    assert (treating > 0).all()


def test_the_kernel_and_the_rules_agree_on_what_visits_are_planned_with():
    _, minutes = encode(SURVEY, Pace(), None, 100.0)
    assert minutes[r.CAPACITY] == 100.0
    assert len(minutes) == r.BY_METHOD + 2 * len(c.METHODS)
    assert (minutes[r.FIRST_VISIT :] > 0.0).all()
    dog = c.METHODS.index("dog")
    assert minutes[r.BY_METHOD + dog] == Pace().knock + Pace().look["dog"]
    assert minutes[r.BY_METHOD + len(c.METHODS) + dog] == Pace().knock


def test_programmes_under_one_limit_are_paired_as_before():
    """What does not depend on a programme is the same luck in both, limit or none."""
    free, full = ran(SURVEY), ran(SURVEY, days=0.25)
    assert free.counts[:, c.FALSE_REPORTS].sum() > 0
    assert np.array_equal(free.counts[:, c.FALSE_REPORTS], full.counts[:, c.FALSE_REPORTS])
    books = books_of([full], Prices(), None)["survey"]
    assert books.work.sum() == pytest.approx(costs(with_trips(full.kept, Prices()), Prices()).sum())


def test_money_paid_later_counts_less_and_nothing_changes_without_a_discount():
    """Ten knocks in week 0 and ten in week 52.18, at 10 per cent: the second ten count for 1 / 1.1."""
    kept = new_kept(1, 53, UNITS)
    kept.visits[0, [0, 52]] = 10
    kept.counts[0, c.KNOCKS] = 20
    runs = [Runs(SURVEY, kept)]
    plain = books_of(runs, Prices(), None)["survey"]
    assert plain.compared.tolist() == (plain.paid + plain.rest).tolist()
    later = books_of(runs, Prices(discount=10.0), None)["survey"]
    assert later.paid.tolist() == plain.paid.tolist(), "what is paid is paid"
    assert later.compared[0] == pytest.approx(plain.paid[0] * (1 + 1.1 ** (-52 / (365.25 / 7))) / 2)
    kept.infested[0, -1] = 2
    left = books_of(runs, Prices(discount=10.0), None, course=100.0)["survey"]
    assert left.compared[0] - later.compared[0] == pytest.approx(200.0 * 1.1 ** (-53 / (365.25 / 7)))


def test_what_is_set_aside_is_enough_in_as_many_futures_as_asked():
    kept = new_kept(100, 4, UNITS)
    kept.visits[:, 0] = 1
    kept.counts[:, c.KNOCKS] = np.arange(100)
    done = Simulated((Runs(SURVEY, kept),), RunSettings(4, 100), UNITS, 100)
    choice = choice_of(done, Prices(reserve=90.0), now="survey", by_week=4)
    paid = books_of(done.runs, Prices(), None)["survey"].paid
    assert (paid <= choice.aside).mean() == 0.9
    assert "90% of the futures" in " ".join(choice_lines(choice, {"survey": "Survey"}, ENGLISH))
    plain = choice_of(done, Prices(), now="survey", by_week=4)
    assert "set aside" not in " ".join(choice_lines(plain, {"survey": "Survey"}, ENGLISH))

"""The compiled simulation of programmes: against a plain one written apart, and against exact answers."""

import threading
from dataclasses import replace

import numpy as np
import pytest
from buildings import find, row, treatment, view_of
from plain_programmes import COLUMNS, PlainRun

from spread.contacts.graph import build_contacts
from spread.plan.drawing.listed import UnitRow
from spread.plan.unit_list import UnitList, draw_plan
from spread.programmes import columns as c
from spread.programmes.begin import begin_from, begin_of, rings_of
from spread.programmes.futures import tables_of_runs
from spread.programmes.keys import run_key, stream, uniform, week_key
from spread.programmes.programme import (
    Clearance,
    Complaint,
    Programme,
    Ranked,
    Ring,
    Survey,
    Treatment,
    Vacant,
    Watch,
)
from spread.programmes.reading import preset, presets
from spread.programmes.run import RunSettings, simulate
from spread.programmes.tables import tables_of
from spread.trade.pace import Pace
from spread.trade.routes import ROUTES

NOTHING = Programme("nothing", "Nothing", complaint=None, survey=Survey(from_week=500))


@pytest.fixture(scope="module")
def view():
    """24 units on three floors: one course under way, one unit empty, one shut door; levels drawn at 15 %."""
    rows = tuple(UnitRow(f"{f}{k:02d}", str(f)) for f in (1, 2, 3) for k in range(1, 9))
    floors = ("1", "2", "3")
    plan = draw_plan(UnitList(rows, floors), "double-loaded", floors=floors, name="Small")
    records = [
        find("103", 20),
        treatment("103", 13),
        row("205", 30, "turnover", "moved-out"),
        row("301", 9, "no-access", "nobody-home"),
    ]
    seen = view_of(records, {"103": 0.9}, graph=build_contacts(plan), otherwise=0.1)
    rng = np.random.default_rng(4)
    draws = (rng.integers(1, 5, (50, 24)) * (rng.random((50, 24)) < 0.15)).astype(np.int8)
    rates = np.array([0.002, 0.01, *seen.dynamics.rates]) * rng.gamma(4.0, 0.5, (50, 2 + len(ROUTES)))
    return replace(
        seen, posterior=replace(seen.posterior, draws=draws, log_weights=np.zeros(50), rates=rates)
    )


ODD = (
    replace(preset("complaint-ranked"), key="minutes", ranked=Ranked(doors=0, minutes=60.0, every_weeks=2)),
    Programme(
        "odd",
        "Odd",
        complaint=Complaint("interview", within_weeks=3, tries=2),
        ring=Ring(within_weeks=5, method="dog", tries=2),
        ranked=Ranked(3, every_weeks=3, from_week=4, method="lure-trap"),
        survey=Survey(every_weeks=9, times=3, from_week=2, over_weeks=4, method="monitors-few"),
        vacant=Vacant(),
        watch=Watch("thorough-visual", every_weeks=3, weeks=12),
        treatment=Treatment("spray", within_weeks=0, every_weeks=3, heat_after=2, encase=True),
        clearance=Clearance(2, 3, period_days=28, chance=0.2, monitors=False),
        notice=False,
    ),
)


@pytest.mark.parametrize("programme", [*presets(), *ODD], ids=lambda p: p.key)
def test_the_kernel_gives_what_a_plain_simulation_gives(view, programme):
    """Every count of every week: same hashed luck, two programs."""
    runs, weeks, seed = 3, 45, 9
    begin = begin_of(view, runs=runs, seed=seed)
    tables = tables_of_runs(tables_of(view.dynamics), begin, seed)
    indptr, indices = rings_of(view, programme.ring)
    rings = [indices[indptr[i] : indptr[i + 1]].tolist() for i in range(view.network.size)]
    kept = simulate(view, [programme], RunSettings(weeks, runs, seed)).runs[0].kept
    for run in range(runs):
        plain = PlainRun(begin, tables[run], programme, rings, seed=seed, run=run, pace=Pace())
        infested, courses, visits = plain.go(weeks)
        assert infested == kept.infested[run].tolist()
        assert courses == kept.known[run].tolist()
        assert visits == kept.visits[run].tolist()
        assert not set(plain.counts) - set(COLUMNS)
        assert [plain.counts[name] for name in COLUMNS] == kept.counts[run].tolist()


def test_the_plain_comparison_meets_finds_courses_and_treatments(view):
    """Or the test above would compare zeros."""
    total = simulate(view, presets(), RunSettings(45, 3, 9)).runs
    counts = sum(runs.counts.sum(axis=0) for runs in total)
    for column in (c.FINDS, c.CLOSED, c.REPORTS, c.SHUT_DOORS, c.NEW, c.ALERTS, c.VACANT_CHECKS):
        assert counts[column] > 0, COLUMNS[column]


def test_two_identical_programmes_differ_by_exactly_zero(view):
    twin = replace(preset("survey-twice-a-year"), key="twin")
    a, b = simulate(view, [preset("survey-twice-a-year"), twin], RunSettings(60, 20)).runs
    for one, other in zip(a.kept, b.kept, strict=True):
        assert np.array_equal(one, other)


def test_threads_and_pieces_change_nothing(view):
    settings = RunSettings(40, 23, workers=1, chunk=23)
    one = simulate(view, presets()[:3], settings)
    other = simulate(view, presets()[:3], replace(settings, workers=3, chunk=4))
    for a, b in zip(one.runs, other.runs, strict=True):
        assert all(np.array_equal(x, y) for x, y in zip(a.kept, b.kept, strict=True))


def test_a_seed_changes_the_luck(view):
    a = simulate(view, [preset("complaint")], RunSettings(30, 10, 1))
    b = simulate(view, [preset("complaint")], RunSettings(30, 10, 2))
    assert not np.array_equal(a.runs[0].infested, b.runs[0].infested)


def test_units_found_never_exceed_units_infested(view):
    for runs in simulate(view, presets(), RunSettings(60, 20)).runs:
        assert np.all(runs.counts[:, c.UNITS_FOUND] <= runs.counts[:, c.UNITS_INFESTED])
        assert np.all(runs.counts[:, c.UNITS_INFESTED] <= view.network.size)
        assert np.array_equal(runs.counts[:, c.BUG_WEEKS], runs.infested[:, :-1].sum(axis=1))
        assert np.array_equal(runs.counts[:, c.VISITS], runs.kept.visits.sum(axis=1))


def test_a_stop_keeps_what_is_done_for_every_programme_alike(view):
    stop, told = threading.Event(), []

    def progress(share):
        told.append(share)
        if len(told) == 2:
            stop.set()

    settings = RunSettings(20, 100, chunk=10)
    done = simulate(view, presets()[:2], settings, progress=progress, stop=stop)
    assert done.stopped
    assert done.done == 20
    assert told == [0.1, 0.2]
    whole = simulate(view, presets()[:2], settings)
    for part, all_of in zip(done.runs, whole.runs, strict=True):
        assert np.array_equal(part.counts, all_of.counts[:20])


def lonely(view, levels, **changed):
    """The building with nobody looking and, unless asked for, nothing brought in."""
    rates = np.zeros((len(levels), 7))
    for place, rate in changed.items():
        rates[:, int(place[1:])] = rate
    return begin_from(
        view.network, levels=levels, rates=rates, mean_rates=rates[0], belief=np.eye(5)[np.zeros(24, int)]
    )


def test_introductions_alone_infest_as_many_units_as_the_exponential_says(view):
    """With no spread, no one moving and nothing dying out: 1 - exp(-b T), exact (textbook)."""
    d = view.dynamics
    still = tables_of(replace(d, move_in=0.0, growth=np.stack([np.eye(5)] * 2)))
    begin = lonely(view, np.zeros((400, 24), np.int8), r0=0.004)
    done = simulate(view, [NOTHING], RunSettings(52, 400), tables=still, begin=begin)
    share = done.runs[0].infested[:, -1].mean() / 24
    expected = 1.0 - np.exp(-0.004 * 52)
    assert share == pytest.approx(expected, abs=4 * np.sqrt(expected * (1 - expected) / (400 * 24)))


def test_one_week_of_spread_is_that_of_the_model(view):
    """Chance of each clear unit after one week: 1 - exp(-hazard), with the hazard of the contacts' matrix."""
    d = view.dynamics
    levels = np.zeros((4000, 24), np.int8)
    levels[:, [4, 13]] = 4
    begin = lonely(view, levels, r0=0.001, r1=0.05)._replace(
        rates=np.tile([0.001, 0.05, *(20 * d.rates)], (4000, 1))
    )
    done = simulate(view, [NOTHING], RunSettings(1, 4000, snapshots=(1,)), tables=tables_of(d), begin=begin)
    hit = (done.runs[0].kept.shots[:, 0] > 0).mean(axis=0)
    weights = view.network.dense(20 * d.rates)
    hazard = 0.001 + weights[4] + weights[13] + 2 * 0.05 / 24
    clear = np.setdiff1d(np.arange(24), [4, 13])
    # One unit in a hundred moves out in that week and is then less exposed.
    assert hit[clear] == pytest.approx(1.0 - np.exp(-hazard[clear]), abs=0.03)
    assert np.corrcoef(hit[clear], hazard[clear])[0, 1] > 0.95


def test_the_hashed_numbers_are_even_and_unrelated():
    """A chi-square of 64 classes and the correlations of neighbouring counters (textbook limits, 5 sigma)."""
    key = week_key(run_key(7, 3), 11)
    numbers = np.array([[uniform(key, i, stream(f"a decision {p}")) for p in range(32)] for i in range(2000)])
    counts = np.bincount((numbers.ravel() * 64).astype(int), minlength=64)
    chi = ((counts - 1000.0) ** 2 / 1000.0).sum()
    assert abs(chi - 63) < 5 * np.sqrt(2 * 63)
    for other in (numbers[1:, :-1], numbers[:-1, 1:]):
        assert abs(np.corrcoef(numbers[:-1, :-1].ravel(), other.ravel())[0, 1]) < 5 / np.sqrt(other.size)


def test_splitmix_gives_its_published_numbers():
    """First outputs of splitmix64 for the seed 1234567 (Vigna's reference code, from memory)."""
    from spread.programmes.keys import mix

    golden, mask = 0x9E3779B97F4A7C15, (1 << 64) - 1
    seen = [int(mix(np.uint64((1234567 + golden * n) & mask))) for n in (1, 2, 3)]
    assert seen == [6457827717110365317, 3203168211198807973, 9817491932198370423]


def test_runs_begin_where_the_records_leave_off(view):
    begin = begin_of(view, runs=50, seed=1)
    at = view.network.index
    assert begin.case[at["103"]] == 1
    assert begin.case_visits[at["103"]] == 1
    assert begin.case_due[at["103"]] == 1, "treated 13 days ago: the next visit a fortnight after"
    assert begin.vacant[at["205"]] == 1
    assert begin.empty_weeks[at["205"]] == 4
    assert begin.case.sum() == 1
    assert begin.vacant.sum() == 1
    assert begin.shut[at["301"]].mean() > begin.shut[at["302"]].mean(), "nobody opened there"
    assert sorted(map(tuple, begin.levels)) == sorted(map(tuple, view.posterior.draws)), "each draw once"


def test_levels_and_rates_of_a_run_come_from_the_same_draw(view):
    begin = begin_of(view, runs=80, seed=2)
    pairs = {(tuple(x), tuple(y)) for x, y in zip(view.posterior.draws, view.posterior.rates, strict=True)}
    assert all((tuple(x), tuple(y)) in pairs for x, y in zip(begin.levels, begin.rates, strict=True))


def test_more_looking_finds_more_and_leaves_fewer_bugs(view):
    none, ring, ranked = simulate(view, presets()[:3], RunSettings(80, 100)).runs
    bugs = [runs.counts[:, c.BUG_WEEKS].mean() for runs in (none, ring, ranked)]
    assert bugs[0] > bugs[1] > bugs[2]


def test_ranked_doors_find_more_a_door_than_a_survey_of_all(view):
    from spread.programmes.columns import METHODS

    ranked = replace(NOTHING, key="r", survey=None, ranked=Ranked(2))
    swept = replace(NOTHING, key="s", survey=Survey(every_weeks=12, method="brief-visual"))
    brief = METHODS.index("brief-visual")
    found = []
    for runs in simulate(view, [ranked, swept], RunSettings(24, 100)).runs:
        planned = runs.counts[:, c.SURVEY_LOOKS] + runs.counts[:, c.RANKED_LOOKS]
        assert np.all(planned <= runs.counts[:, c.LOOKS + brief])
        found.append(runs.counts[:, c.FINDS].sum() / planned.sum())
    assert found[0] > found[1]

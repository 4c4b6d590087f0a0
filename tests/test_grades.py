"""Lists are kept with their promises, and graded by looks made after them: never by one that they knew."""

from __future__ import annotations

import datetime as dt
import json
from dataclasses import replace
from itertools import product

import numpy as np
import pytest
from buildings import CODES, ON, clear, find, report, row, treatment, view_of
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import binom
from small import LIVED_IN, small_session

from spread.cli import main
from spread.decisions.doors.ranking import rank_doors
from spread.decisions.grades.grades import ENOUGH, OffPromise, grades_of, off_promise
from spread.decisions.grades.matching import (
    HORIZON,
    OTHER_METHOD,
    OVERTAKEN,
    UNDECIDED,
    UNLISTED,
    known_rows,
    match,
)
from spread.decisions.grades.promising import promise_of
from spread.decisions.grades.scores import brier, interval, log_score, poisson_binomial
from spread.errors import RecordError
from spread.records.log import Log
from spread.records.promises import FolderPromises, Promise, Promised, promise_of_text, text_of_promise
from spread.records.store import FolderStore
from spread.report.grades import grades_data, scope_words, trouble_words, verdict_words
from spread.report.text import fit_data
from spread.words import ENGLISH, Voice, say
from spread.worlds.truth import World

METHOD = "brief-visual"


def listed(*units, ago=0, method=METHOD, yes=0.3, known=(), on=None):
    """A list some days before :data:`ON` that promises the same of every unit."""
    rows = tuple(Promised(unit, yes, yes, yes) for unit in units)
    day = ON - dt.timedelta(days=ago) if on is None else on
    return Promise(day, "doors", method, 1, "0 rows", rows, frozenset(known))


class InMemory:
    """Lists that are kept nowhere."""

    can_keep, broken = True, 0

    def __init__(self, *promises):
        self._all = promises

    def all(self):
        return tuple(self._all)


# -- the numbers


def test_chances_of_a_count_are_those_of_all_ways_to_reach_it():
    """Every way for eight events to happen or not, counted one by one."""
    chances = np.array([0.02, 0.1, 0.3, 0.3, 0.5, 0.77, 0.9, 1.0])
    told = np.zeros(9)
    for ways in product((0, 1), repeat=8):
        told[sum(ways)] += np.prod(np.where(ways, chances, 1.0 - chances))
    assert poisson_binomial(chances) == pytest.approx(told)


@pytest.mark.parametrize(("n", "p"), [(1, 0.3), (20, 0.05), (200, 0.21)])
def test_of_equal_chances_it_is_a_binomial_with_scipys_interval(n, p):
    told = poisson_binomial(np.full(n, p))
    assert told == pytest.approx(binom(n, p).pmf(np.arange(n + 1)))
    low, high, holds = interval(told, 0.95)
    assert (low, high) == binom(n, p).interval(0.95)
    assert holds == pytest.approx(binom(n, p).cdf(high) - binom(n, p).cdf(low - 1))
    assert holds >= 0.95


def test_scores_are_those_that_scikit_learn_prints():
    """scikit-learn 1.9: brier_score_loss and log_loss of y = 0 0 1 1 and s = 0.1 0.4 0.35 0.8."""
    chances, made = np.array([0.1, 0.4, 0.35, 0.8]), np.array([0.0, 0.0, 1.0, 1.0])
    assert brier(chances, made) == pytest.approx(0.158125)
    assert log_score(chances, made) == pytest.approx(0.472288, abs=1e-6)


def test_a_find_where_none_was_thought_possible_costs_much_and_not_everything():
    assert 10 < log_score(np.array([0.0]), np.array([1.0])) < 20


# -- which look grades which list


def told(promises, rows, on=ON):
    return match(promises, Log(tuple(rows)), on)


def test_a_look_grades_the_last_list_before_it():
    lists = [listed("101", ago=20, yes=0.1), listed("101", ago=5, yes=0.4), listed("101", ago=1, yes=0.9)]
    (one,) = told(lists, [clear("101", 3)]).graded
    assert (one.promised, one.made, one.day) == (0.4, False, ON - dt.timedelta(days=5))


def test_of_two_lists_of_a_day_the_later_one_counts():
    lists = [listed("101", "102", ago=5, yes=0.1), listed("101", ago=5, yes=0.6)]
    assert told(lists, [find("101", 5)]).graded[0].promised == 0.6


def test_a_look_of_an_earlier_day_typed_in_late_grades_nothing():
    assert told([listed("101", ago=5)], [find("101", 6)]).graded == ()


def test_a_look_that_the_list_knew_grades_nothing_also_when_it_is_corrected():
    seen = find("101", 5)
    known = listed("101", ago=5, known=[seen.id])
    assert told([known], [seen]).left == {UNLISTED: 1}
    mended = clear("101", 4, id="mended", supersedes=seen.id)
    assert told([known], [seen, mended]).graded == ()
    assert len(told([listed("101", ago=5)], [seen, mended]).graded) == 1


def test_a_monitor_counts_from_the_day_it_was_set():
    traps = row("101", 0, "monitor", "interceptors", "yes", days=14)
    before, after = (listed("101", ago=ago, method="interceptors") for ago in (15, 13))
    assert len(told([before], [traps]).graded) == 1
    assert told([after], [traps]).graded == ()


@pytest.mark.parametrize(
    ("rows", "why"),
    [
        ([clear("102", 3)], UNLISTED),
        ([clear("101", 3, method="thorough-visual")], OTHER_METHOD),
        ([row("101", 3, found="unsure")], UNDECIDED),
    ],
)
def test_a_look_that_grades_nothing_is_counted_by_its_reason(rows, why):
    matched = told([listed("101", ago=5)], rows)
    assert matched.graded == ()
    assert matched.left == {why: 1}


@pytest.mark.parametrize("between", [report("101", 4), treatment("101", 4), row("101", 4, "turnover")])
def test_what_is_recorded_of_the_unit_in_between_ends_the_promise(between):
    matched = told([listed("101", ago=5)], [between, find("101", 3)])
    assert matched.left == {OVERTAKEN: 1}
    assert len(told([listed("101", ago=5)], [row("101", 4, "note"), find("101", 3)]).graded) == 1


def test_a_list_is_graded_once_a_unit_and_not_after_its_horizon():
    matched = told([listed("101", ago=5)], [find("101", 4), find("101", 3)])
    assert len(matched.graded) == 1
    assert matched.left == {OVERTAKEN: 1}
    assert told([listed("101", ago=HORIZON)], [find("101", 0)]).graded
    assert told([listed("101", ago=HORIZON + 1)], [find("101", 0)]).left == {UNLISTED: 1}


def test_looks_after_the_day_of_the_grade_are_left_out():
    assert told([listed("101", ago=5)], [find("101", 3)], ON - dt.timedelta(days=4)).graded == ()


event = st.tuples(
    st.sampled_from(["list", "look", "report", "mend"]), st.sampled_from(CODES[:2]), st.integers(0, 6)
)


@settings(max_examples=150, deadline=None)
@given(st.lists(event, max_size=14), st.randoms(use_true_random=False))
def test_a_look_made_before_the_list_never_grades_it(events, luck):
    """Lists and rows come in any order, rows of any day, and the log is then in any order of rows.

    Each list promises another chance, so that it is known which one a look has graded.
    """
    promises, rows, made_at, root = [], [], {}, {}
    for place, (what, unit, ago) in enumerate(events):
        log = Log(tuple(rows))
        if what == "list":
            day = ON - dt.timedelta(days=ago)
            known = known_rows(log, CODES, day)
            promises.append(listed(*CODES, on=day, yes=(place + 1) / 100, known=known))
        elif what == "look":
            rows.append(find(unit, ago, id=f"look-{place}"))
            made_at[f"look-{place}"] = place
        elif what == "report":
            rows.append(report(unit, ago, id=f"report-{place}"))
        elif standing := [r for r in log.current if r.is_look and r.unit == unit]:
            old = standing[0]
            rows.append(clear(unit, ago, id=f"mend-{place}", supersedes=old.id))
            made_at[f"mend-{place}"] = made_at[root.get(old.id, old.id)]
            root[f"mend-{place}"] = root.get(old.id, old.id)
    luck.shuffle(rows)
    log = Log(tuple(rows))
    for one in match(promises, log, ON).graded:
        at = round(one.promised * 100) - 1
        assert at < made_at[one.look]
        assert one.day <= log.by_id[one.look].when


# -- simulated buildings


def simulated(folder, halved, days=12):
    """Lists of twelve doors on some days, each followed by looks; the truth is drawn from the chances.

    Where reality is ``halved``, every infestation that was drawn is there with a chance of one half.
    """
    rng = np.random.default_rng(11)
    chances = dict(zip(CODES, np.linspace(0.05, 0.6, 12), strict=True))
    store = FolderStore(folder / "records.csv", CODES)
    for k in range(days):
        day = ON - dt.timedelta(days=40 - 3 * k)
        view = view_of((), chances, on=day, level=3)
        doors = [door for door in rank_doors(view, METHOD) if door.status == "look"]
        store.promises.keep(promise_of(replace(view, log=store.log), METHOD, doors, "doors"))
        there = rng.random(12) < [chances[unit] for unit in view.network.units]
        if halved:
            there &= rng.random(12) < 0.5
        world = World(view.network, view.dynamics, rng=rng, start=np.where(there, 3, 0))
        for door in doors:
            store.append(world.look(door.unit, METHOD, when=day, id=f"look-{k}-{door.unit}"))
    return store


def test_where_promises_are_right_the_grade_is_fine(tmp_path):
    store = simulated(tmp_path, halved=False)
    grades = grades_of(store.promises, store.log, ON)
    assert grades.lists == 12
    assert grades.whole.looks == 144
    assert grades.left == {}
    assert grades.whole.inside
    assert off_promise(grades) is None
    assert grades.skill > 0.05, "units were told apart"
    assert all(band.looks.inside for band in grades.bands)
    assert sum(band.looks.looks for band in grades.bands) == 144
    assert grades.days[-1].so_far == grades.whole
    assert abs(grades.covered - grades.expected) <= 2
    assert "kept their promises" in verdict_words(grades, ENGLISH)


def test_where_reality_halves_the_promises_it_warns(tmp_path):
    store = simulated(tmp_path, halved=True)
    grades = grades_of(store.promises, store.log, ON)
    off = off_promise(grades)
    assert off is not None
    assert not off.more
    assert off.made < off.low <= off.promised
    assert "promise too much" in verdict_words(grades, ENGLISH)
    assert "not cleared" in say(off, ENGLISH)
    assert "prometen demasiado" in say(off, Voice("es"))


def test_where_more_is_found_than_promised_it_says_that_a_low_chance_clears_nobody():
    lists = InMemory(*(listed(*CODES, ago=ago, yes=0.05) for ago in (9, 6)))
    rows = [find(unit, ago) for unit in CODES for ago in (8, 5)]
    off = off_promise(grades_of(lists, Log(tuple(rows)), ON))
    assert off == OffPromise(True, 24, pytest.approx(1.2), 0, 4, 24)
    assert "a low chance clears no unit" in say(off, ENGLISH)


def test_fewer_looks_than_enough_never_warn_and_say_that_nobody_can_tell():
    lists = InMemory(listed(*CODES, ago=9, yes=0.001))
    rows = [find(unit, 8) for unit in CODES]
    assert len(rows) < ENOUGH
    grades = grades_of(lists, Log(tuple(rows)), ON)
    assert not grades.whole.inside
    assert off_promise(grades) is None
    assert "Not yet gradable: 12 looks" in verdict_words(grades, ENGLISH)


def test_without_lists_and_without_looks_it_says_so():
    assert "no list is kept yet" in verdict_words(grades_of(InMemory(), Log(), ON), ENGLISH)
    grades = grades_of(InMemory(listed("101")), Log(), ON)
    assert "Not yet gradable: 0 looks" in verdict_words(grades, ENGLISH)
    assert (grades.brier, grades.skill) == (None, None)


def test_who_was_looked_at_is_always_said():
    grades = grades_of(InMemory(listed(*CODES, ago=9)), Log((find("101", 8),)), ON)
    assert any("1 of 12 units" in one and "clears no unit" in one for one in scope_words(grades, ENGLISH))


# -- kept


def test_a_list_comes_back_as_it_was_and_the_same_facts_are_one(tmp_path):
    first, second = (FolderPromises(tmp_path / "records.csv") for _ in range(2))
    promise = listed("101", "102", known=["a", "b"])
    first.keep(promise)
    second.keep(replace(promise, made_by="plan"))
    second.keep(listed("102", "101"))
    assert [one.made_by for one in first.all()] == ["doors", "doors"]
    assert first.all() == FolderPromises(tmp_path / "records.csv").all()
    assert first.all()[0] == promise


def test_a_line_that_a_kill_cut_off_loses_no_list(tmp_path):
    kept = FolderPromises(tmp_path / "records.csv")
    kept.keep(listed("101"))
    path = tmp_path / "records.csv.promises"
    whole = path.read_bytes()
    path.write_bytes(whole + b'["0123", "+", "{')
    again = FolderPromises(tmp_path / "records.csv")
    again.keep(listed("102"))
    assert [one.rows[0].unit for one in FolderPromises(tmp_path / "records.csv").all()] == ["101", "102"]
    assert path.read_bytes().startswith(whole)
    assert again.broken == 0


@pytest.mark.parametrize(
    "change",
    [("0.3", "0.2"), ("0.3", "7.0"), ("0.3", "NaN"), ("2024", "20x4"), ('\\"units\\"', '\\"other\\"')],
)
def test_a_line_that_somebody_changed_is_told_and_trips_nothing(tmp_path, change):
    FolderPromises(tmp_path / "records.csv").keep(listed("101"))
    path = tmp_path / "records.csv.promises"
    path.write_text(path.read_text().replace(*change))
    again = FolderPromises(tmp_path / "records.csv")
    again.all()
    assert again.broken > 0
    grades = grades_of(again, Log((find("101", 0),)), ON)
    assert any("changed by somebody" in one for one in trouble_words(grades, ENGLISH))


def test_no_text_but_its_own_is_read_as_a_list():
    good = text_of_promise(listed("101"))
    assert promise_of_text(good) == listed("101")
    for bad in ("", "[]", "{}", "null", good.replace("0.3", '"x"'), good.replace('"known":[]', '"known":3')):
        assert promise_of_text(bad) is None


# -- a session, its commands and its page


def test_a_session_keeps_each_list_once_and_grades_it(tmp_path):
    session = small_session(tmp_path / "made", rows=LIVED_IN)
    doors = [door for door in session.doors() if door.status == "look"]
    session.promise("doors", doors)
    session.promise("plan", doors)
    assert session.grades().lists == 1
    session.record({"unit": doors[0].unit, "kind": "inspection", "method": session.method, "found": "no"})
    grades = session.grades()
    assert (grades.whole.looks, grades.whole.made) == (1, 0)
    kept = session.building.store.promises.all()[0]
    assert [one.unit for one in kept.rows] == [door.unit for door in doors]
    assert all(one.find <= one.yes <= 1 for one in kept.rows)
    session.promise("doors", [door for door in session.doors() if door.status == "look"])
    session.wait()
    assert session.grades().whole.looks == 1, "the list made after the look is not graded by it"
    assert session.grades().whole.promised == grades.whole.promised


def test_lists_that_promise_wrongly_are_warned_of_wherever_the_log_is(tmp_path):
    session = small_session(tmp_path / "made")
    units = tuple(session.plan.units)
    for ago in (14, 9, 4):
        on = session.on - dt.timedelta(days=ago)
        session.building.store.promises.keep(listed(*units, on=on, yes=0.9, method=session.method))
    before = session.warnings()
    fields = {"kind": "inspection", "method": session.method, "found": "no"}
    for ago in (13, 8, 3):
        for unit in units:
            day = (session.on - dt.timedelta(days=ago)).isoformat()
            session.record({**fields, "unit": unit, "when": day})
    session.wait()
    (off,) = set(session.warnings()) - set(before)
    assert isinstance(off, OffPromise)
    assert off.looks >= ENOUGH
    assert [one for one in fit_data(session)["warnings"] if one["fact"] == "off-promise"]


def test_a_folder_that_cannot_be_written_gives_lists_all_the_same_and_the_page_says_so(tmp_path, monkeypatch):
    from dashboard.grades.page import build_layout

    session = small_session(tmp_path / "made", rows=LIVED_IN)
    before = sorted(path.name for path in session.building.folder.iterdir())
    assert "cannot be kept" not in str(build_layout(session))

    def refuse(self, promise):
        raise RecordError.at("records.csv.promises", "", "it cannot be written", "make it writable")

    monkeypatch.setattr(FolderPromises, "keep", refuse)
    session.promise("doors", session.doors())
    assert "cannot be kept" in str(build_layout(session))
    assert sorted(path.name for path in session.building.folder.iterdir()) == before


def test_where_nothing_can_be_written_a_list_is_refused_in_a_sentence(tmp_path):
    kept = FolderPromises(tmp_path / "gone" / "records.csv")
    assert not kept.can_keep
    assert kept.all() == ()
    with pytest.raises(RecordError):
        kept.keep(listed("101"))
    assert list(tmp_path.iterdir()) == []


def test_the_page_shows_sums_and_names_no_unit(tmp_path):
    from dashboard.grades.page import build_layout

    session = small_session(tmp_path / "made")
    units = tuple(session.plan.units)
    for ago in (14, 9, 4):
        on = session.on - dt.timedelta(days=ago)
        session.building.store.promises.keep(listed(*units, on=on, yes=0.2, method=session.method))
        for k, unit in enumerate(units):
            found = "yes" if k % 5 == 0 else "no"
            day = (on + dt.timedelta(days=1)).isoformat()
            session.record(
                {"unit": unit, "when": day, "kind": "inspection", "method": session.method, "found": found}
            )
    session.wait()
    page = json.dumps(build_layout(session).to_plotly_json(), default=lambda one: one.to_plotly_json())
    assert "grades-bands" in page
    assert "grades-sum" in page
    assert str(session.grades().whole.looks) in page
    assert not [unit for unit in units if f'"{unit}"' in page or f" {unit} " in page]


def test_the_command_grades_a_folder_and_a_list_made_twice_is_one(tmp_path, capsys):
    session = small_session(tmp_path / "made", rows=LIVED_IN)
    folder = str(session.building.folder)
    assert main(["grades", folder]) == 0
    assert "no list is kept yet" in capsys.readouterr().out
    session.promise("doors", [door for door in session.doors() if door.status == "look"])
    assert main(["grades", folder, "--on", session.on.isoformat()]) == 0
    assert "1 list is kept" in capsys.readouterr().out
    assert main(["grades", folder, "--on", session.on.isoformat(), "--json"]) == 0
    data = json.loads(capsys.readouterr().out)
    assert (data["lists"], data["gradable"], data["warnings"]) == (1, False, [])
    assert data["whole"]["looks"] == 0
    assert data == grades_data(session.building, session.on)

"""Clearance in programmes: the building's own rule ends a course, and the luck stays paired."""

import json
from dataclasses import replace

import numpy as np
import pytest
from buildings import CODES, TOML, clear, find, make_building, maple_contacts, row, treatment, view_of
from hypothesis import given, settings
from hypothesis import strategies as st

from spread.cli import main
from spread.errors import SettingsError
from spread.programmes import columns as c
from spread.programmes.begin import begin_from, begin_of
from spread.programmes.clearing import ending_of, rule_of, settled
from spread.programmes.money import KINDS, Prices, costs
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
from spread.programmes.reading import parse_programme, preset
from spread.programmes.run import RunSettings, simulate
from spread.programmes.schedule import standing_work
from spread.programmes.tables import look_tables, tables_of
from spread.trade.clearance import ClearanceRule
from spread.words import ENGLISH, say

PLAIN = preset("complaint")
QUIET = Programme("quiet", "Quiet", complaint=None, survey=Survey(from_week=500))


def test_the_trades_rule_is_three_clean_visits_and_four_where_it_was_heavy():
    ending = ending_of(PLAIN, ClearanceRule())
    assert ending == (3, 4, 1, "interceptors")


@pytest.mark.parametrize(
    ("rule", "visits", "heavy"),
    [
        (ClearanceRule(periods=5, heavy_periods=6), 5, 6),
        (ClearanceRule(period_days=28), 6, 8),
        (ClearanceRule(periods=2, heavy_periods=2, looks=5), 5, 5),
        # A half before and 0.365 missed a visit: 4.6 % after three, 1.7 % after four, 0.6 % after five, 0.24
        # after six.
        (ClearanceRule(chance=0.005), 6, 6),
        (ClearanceRule(chance=0.02), 4, 4),
        # Few monitors and a look miss 0.5475 of a trace: 8 % after four visits, 4.7 % after five.
        (ClearanceRule(monitors=("monitors-few",)), 5, 5),
    ],
)
def test_every_part_of_the_buildings_rule_counts(rule, visits, heavy):
    ending = ending_of(PLAIN, rule)
    assert (ending.visits, ending.heavy_visits) == (visits, heavy)
    assert ending.monitor == rule.monitors[0]


def test_a_programme_changes_the_parts_it_names_and_no_others():
    own = replace(PLAIN, clearance=Clearance(periods=4))
    building = ClearanceRule(periods=2, heavy_periods=3, looks=3, period_days=21)
    whole = rule_of(own.clearance, building)
    assert (whole.periods, whole.heavy_periods, whole.looks, whole.period_days) == (4, 4, 3, 21)
    assert settled(own, building).clearance == Clearance(4, 4, 21, 3, building.chance)
    assert ending_of(settled(own, building), ClearanceRule()) == ending_of(own, building)


def test_a_programme_reads_its_parts_and_cannot_go_below_the_bounds():
    read = parse_programme({"name": "X", "complaint": {}, "clearance": {"periods": 6}}, "o.toml", key="o")
    assert read.clearance == Clearance(periods=6)
    for table, words in (
        ({"periods": 1}, "expected 2 to 12"),
        ({"looks": 1}, "expected 2 to 6"),
        ({"chance": 0.5}, "expected 0.001 to 0.2"),
        ({"clean": 3}, "write periods = 3"),
    ):
        with pytest.raises(SettingsError, match=words):
            parse_programme({"name": "X", "complaint": {}, "clearance": table}, "o.toml", key="o")


def still_run(rule, *, heavy=False, programme=QUIET, weeks=52):
    """Run a still building in which one unit was treated, nothing ever being found."""
    view = view_of()
    n = view.network.size
    still = replace(view.dynamics, move_in=0.0, growth=np.stack([np.eye(5)] * 2))
    found, _ = look_tables()
    begin = begin_from(
        view.network,
        levels=np.zeros((1, n), np.int8),
        rates=np.zeros((1, 2 + len(view.dynamics.rates))),
        mean_rates=np.zeros(2 + len(view.dynamics.rates)),
        belief=np.eye(5)[np.zeros(n, int)],
        shut=0.0,
        refuses=0.0,
        leave=0.0,
    )
    for rows, value in ((begin.case, 1), (begin.case_due, 2), (begin.case_visits, 1)):
        rows[0] = value
    begin.case_heavy[0] = heavy
    tables = tables_of(still, found=np.zeros_like(found))
    tables = tables._replace(unsure=np.zeros_like(found), report=np.zeros_like(tables.report))
    ruled = replace(view, clearance=rule or ClearanceRule())
    return simulate(ruled, [programme], RunSettings(weeks, 1, seed=3), tables=tables, begin=begin).runs[0]


def closing_week(rule, *, heavy=False, programme=QUIET):
    """Return the week in which that unit is closed."""
    return int(np.argmin(still_run(rule, heavy=heavy, programme=programme).kept.known[0])) - 1


def test_the_kernel_closes_a_unit_at_the_visit_that_the_rule_says():
    """The first look a fortnight after the treatment in week 0, then one every two weeks."""
    assert closing_week(None) == 6
    assert closing_week(None, heavy=True) == 8
    assert closing_week(ClearanceRule(periods=2, heavy_periods=2, chance=0.12)) == 4
    assert closing_week(ClearanceRule(periods=2, heavy_periods=2)) == 6, "two leave 12 %, more than 5 %"
    assert closing_week(ClearanceRule(period_days=28)) == 12
    own = replace(QUIET, clearance=Clearance(periods=5))
    assert closing_week(ClearanceRule(periods=2), programme=own) == 10
    slow = replace(QUIET, treatment=Treatment(every_weeks=4))
    assert closing_week(None, programme=slow) == 2 + 4 + 4


def test_courses_under_way_are_those_of_the_follow_up_with_the_periods_they_have():
    rows = [
        find("103", 40, level="heavy"), treatment("103", 38),
        row("103", 20, "monitor", "interceptors", "no", days=14),
        find("201", 40), treatment("201", 38), clear("201", 20),
        find("106", 60), treatment("106", 58), clear("106", 40), clear("106", 20),
    ]  # fmt: skip
    view = view_of(rows)
    at = view.network.index
    begin = begin_of(view, runs=2, seed=1)
    assert begin.case[at["103"]] == begin.case[at["201"]] == 1
    assert (begin.case_clean[at["103"]], begin.case_heavy[at["103"]]) == (1, 1)
    assert (begin.case_clean[at["201"]], begin.case_heavy[at["201"]]) == (0, 0)
    states = {unit: one.state for unit, one in view.followups.items()}
    under_way = {"infested", "under treatment", "clearing"}
    assert {u for u in at if begin.case[at[u]]} == {u for u in at if states[u] in under_way}
    strict = begin_of(replace(view, clearance=ClearanceRule(period_days=21)), runs=2, seed=1)
    assert strict.case_clean[at["103"]] == 0, "fourteen days are no period of this rule"


def test_the_words_of_a_programme_that_ran_are_those_of_the_buildings_rule():
    rule = ClearanceRule(periods=5, heavy_periods=7, monitors=("monitors-few",))
    ran = simulate(replace(view_of(), clearance=rule), [PLAIN], RunSettings(4, 2)).runs[0].programme
    words = " ".join(say(work, ENGLISH) for work in standing_work(ran))
    assert "until 5 visits in a row find nothing" in words
    assert "(7 where it was heavy)" in words


def test_the_buildings_file_changes_the_figures_of_compare(tmp_path, capsys):
    rows = [find("102", 25), treatment("102", 20), find("203", 10)]
    visits = []
    for name, more in (("usual", ""), ("strict", "\n[clearance]\nperiods = 10\nheavy_periods = 10\n")):
        folder = make_building(tmp_path / name, rows, toml=TOML + more)
        asked = ["compare", str(folder), "--on", "2024-05-15", "--runs", "20", "--weeks", "20", "--json"]
        assert main([*asked, "--programmes", "complaint"]) == 0
        visits.append(json.loads(capsys.readouterr().out)["outcomes"][0]["figures"]["visits"]["mean"])
    assert visits[1] > visits[0]


METHOD = st.sampled_from(("brief-visual", "thorough-visual", "dog", "interview", "interceptors", "protocol"))
MAYBE = st.one_of
PROGRAMMES = st.builds(
    Programme,
    key=st.just("made"),
    name=st.just("Made"),
    complaint=MAYBE(st.none(), st.builds(Complaint, METHOD, st.integers(0, 4), st.integers(1, 4))),
    ring=MAYBE(st.none(), st.builds(Ring, method=METHOD, within_weeks=st.integers(1, 5))),
    ranked=MAYBE(st.none(), st.builds(Ranked, doors=st.integers(1, 8), every_weeks=st.integers(1, 3))),
    survey=MAYBE(st.none(), st.builds(Survey, st.integers(4, 30), method=METHOD)),
    vacant=MAYBE(st.none(), st.just(Vacant())),
    watch=MAYBE(st.none(), st.builds(Watch, METHOD, st.integers(1, 6), st.integers(1, 12))),
    treatment=st.builds(
        Treatment,
        st.sampled_from(("combined", "spray", "whole-room-heat")),
        every_weeks=st.integers(1, 4),
        encase=st.booleans(),
    ),
    clearance=st.builds(Clearance, MAYBE(st.none(), st.integers(2, 5)), monitors=st.booleans()),
    notice=st.booleans(),
)
_VIEW = view_of(
    [find("103", 20), treatment("103", 13), row("205", 30, "turnover", "moved-out")],
    dict.fromkeys(CODES[:5], 0.5),
    graph=maple_contacts(),
)


@settings(max_examples=25, deadline=None)
@given(st.integers(1, 20), st.integers(0, 40), st.integers(0, 60))
def test_the_watch_looks_only_after_a_course_ended_and_only_for_its_weeks(every, weeks, begins):
    """The course of the one unit ends in week 6; nothing else is looked at before or after."""
    watched = replace(QUIET, watch=Watch(every_weeks=every, weeks=weeks), begins=begins)
    visits = still_run(None, programme=watched, weeks=70).kept.visits[0]
    planned = {6 + since for since in range(every, weeks + 1, every)}
    assert {week for week in range(7, 70) if visits[week]} == {week for week in planned if week >= begins}
    assert visits[7:].max() <= 1
    assert visits[:7].tolist() == still_run(None).kept.visits[0, :7].tolist()


def test_a_watch_writes_notices_and_knocks_again_as_any_look():
    watched = replace(QUIET, watch=Watch(every_weeks=10, weeks=40))
    counts = [still_run(None, programme=one).counts[0] for one in (watched, replace(watched, notice=False))]
    assert counts[0][c.NOTICES] - still_run(None).counts[0][c.NOTICES] == 4
    assert counts[1][c.NOTICES] == 0
    assert counts[0][c.KNOCKS] == still_run(None).counts[0][c.KNOCKS] + 4


def test_without_a_watch_a_run_is_as_it_was_and_with_one_more_relapses_are_found():
    few = replace(PLAIN, clearance=Clearance(periods=2, heavy_periods=2, chance=0.2, monitors=False))
    never = replace(few, key="never", watch=Watch(weeks=0))
    watched = replace(few, key="watched", watch=Watch(every_weeks=4, weeks=26))
    done = simulate(_VIEW, [few, never, watched], RunSettings(60, 200, seed=5))
    assert same(done.of(few.key), done.of("never"))
    more = done.of("watched").counts[:, c.RELAPSES] - done.of(few.key).counts[:, c.RELAPSES]
    assert more.mean() > 2.0 * more.std() / len(more) ** 0.5


def test_every_household_treated_gets_its_encasements_once_and_nothing_else_changes():
    """Doors that open, people who stay and a treatment in the week of the find: one a unit treated."""
    still = begin_of(_VIEW, runs=30, seed=2)._replace(refuses=0.0, leave=0.0, relet=0.0)
    still = still._replace(shut=np.zeros_like(still.shut), vacant=np.zeros_like(still.vacant))
    still = still._replace(case=np.zeros_like(still.case))
    soon = Clearance(periods=2, heavy_periods=2, chance=0.2, monitors=False)
    bare = replace(PLAIN, treatment=Treatment(within_weeks=0), clearance=soon, survey=Survey(4))
    cased = replace(bare, key="cased", treatment=Treatment(within_weeks=0, encase=True))
    short, long = (simulate(_VIEW, [bare, cased], RunSettings(weeks, 30), begin=still) for weeks in (6, 80))
    for done in (short, long):
        one, other = (done.of(key).counts for key in (bare.key, "cased"))
        assert not one[:, c.ENCASEMENTS].any()
        rest = np.arange(c.WIDTH) != c.ENCASEMENTS
        assert np.array_equal(one[:, rest], other[:, rest]), "no effect on bugs is claimed"
    begun = long.of("cased").counts[:, [c.FINDS, c.FALSE_FINDS]].sum(axis=1)
    put_on = long.of("cased").counts[:, c.ENCASEMENTS]
    assert np.all(put_on <= np.minimum(begun, _VIEW.network.size))
    assert (put_on < begun).any(), "a second course in a unit finds them on the beds"
    once = short.of("cased").counts
    first = once[:, [c.FINDS, c.FALSE_FINDS]].sum(axis=1)
    alone = once[:, c.CLOSED] == 0  # no unit can have had two courses
    assert first[alone].sum() > 0
    assert np.array_equal(once[alone, c.ENCASEMENTS], first[alone])


def test_encasements_are_in_the_cost_and_in_words():
    row = np.zeros((1, c.WIDTH))
    row[0, c.ENCASEMENTS] = 3
    paid = costs(row, Prices(hour=60.0, encase=10.0, encasement=80.0))[0]
    assert paid[KINDS.index("treatment")] == paid.sum() == 3 * (10 + 80)
    table = {"name": "X", "complaint": {}, "treatment": {"encase": True}}
    read = parse_programme(table, "o.toml", key="o")
    assert read.treatment.encase
    said = " ".join(say(work, ENGLISH) for work in standing_work(read))
    assert "The first treatment visit puts encasements on the beds." in said
    assert "encasements" not in " ".join(say(work, ENGLISH) for work in standing_work(PLAIN))
    with pytest.raises(SettingsError, match="setting 'encase'"):
        parse_programme({**table, "treatment": {"encase": "often"}}, "o.toml", key="o")


def test_a_watch_is_read_said_and_refused_in_one_sentence():
    read = parse_programme({"name": "X", "complaint": {}, "watch": {"every_weeks": 8}}, "o.toml", key="o")
    assert read.watch == Watch(every_weeks=8)
    said = [say(work, ENGLISH) for work in standing_work(read)]
    assert "After a course has ended: brief look every 8 weeks for 52 weeks." in said
    for table, words in (
        ({"weeks": 0}, "expected 1 to 156"),
        ({"every_weeks": 0}, "expected 1 to 104"),
        ({"method": "magic"}, "setting 'method'"),
    ):
        with pytest.raises(SettingsError, match=words):
            parse_programme({"name": "X", "complaint": {}, "watch": table}, "o.toml", key="o")
    with pytest.raises(SettingsError, match="nothing makes anybody look"):
        parse_programme({"name": "X", "watch": {}}, "o.toml", key="o")


def same(a, b):
    return all(np.array_equal(x, y) for x, y in zip(a.kept, b.kept, strict=True))


@settings(max_examples=40, deadline=None)
@given(PROGRAMMES, PROGRAMMES, st.integers(0, 2**31))
def test_twins_differ_by_exactly_zero_and_a_third_changes_neither(programme, third, seed):
    """Whatever the programmes are: every run, week, count and level."""
    twin, third = replace(programme, key="twin"), replace(third, key="third")
    asked = RunSettings(weeks=16, runs=4, seed=seed, chunk=2, snapshots=(5, 16))
    two = simulate(_VIEW, [programme, twin], asked)
    three = simulate(_VIEW, [third, programme, twin], asked)
    assert same(two.of("made"), two.of("twin"))
    assert same(two.of("made"), three.of("made"))
    assert same(two.of("twin"), three.of("twin"))


def test_programmes_of_that_kind_do_differ_from_one_another():
    """Or the property would hold of a simulation that ignores its programme."""
    few, many = Programme("few", "Few"), Programme("many", "Many", survey=Survey(4))
    done = simulate(_VIEW, [few, many], RunSettings(16, 4, seed=1))
    assert not same(*done.runs)

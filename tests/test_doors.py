"""The list of next doors on made chances, so that every order and figure can be worked out by hand."""

import datetime as dt
from functools import partial

import numpy as np
import pytest
from buildings import CODES, ON, clear, find, maple_contacts, report, row, treatment, view_of
from hypothesis import given, settings
from hypothesis import strategies as st

from benchmarks.worth import worth_of_looking
from spread.contacts.relations import RingPlace
from spread.decisions.doors.effort import effort_of
from spread.decisions.doors.ranking import chance_of_find, open_looks, rank_doors
from spread.decisions.doors.reasons import reasons_for
from spread.errors import SettingsError
from spread.trade import detection
from spread.trade.pace import Pace
from spread.trade.registry import LOOKING
from spread.trade.rules import load_rules
from spread.words import ENGLISH, say
from spread.words.doors import access_words, because_words, reason_text, sure_words, visit_words
from spread.words.relations import places

BESIDE = partial(RingPlace, sides=("beside",))
STATUSES = ("look", "treat", "revisit")


def listed(view, method="brief-visual", status="look"):
    return [door.unit for door in rank_doors(view, method) if door.status == status]


def door(view, unit, method="brief-visual"):
    return next(door for door in rank_doors(view, method) if door.unit == unit)


def test_doors_go_by_the_chance_of_a_find():
    view = view_of(chances={"204": 0.5, "101": 0.3, "206": 0.4})
    assert listed(view)[:3] == ["204", "206", "101"]


def test_doors_of_equal_chance_go_in_plan_order():
    assert listed(view_of()) == list(CODES)


def test_the_chance_of_a_find_is_the_sum_over_levels_of_chance_times_sensitivity():
    view = view_of(chances={"204": 0.5}, level=2)
    # By hand: the half of the chance that is not clear lies on "low" alone.
    for method in ("brief-visual", "dog", "interceptors"):
        expected = 0.5 * detection.sensitivity(method)[2]
        assert door(view, "204", method).chance_of_find == pytest.approx(expected)
        assert chance_of_find(view, method)[view.network.index["204"]] == pytest.approx(expected)


def test_the_method_may_change_the_order():
    """A unit that is surely light is a door for the better method, a likelier heavy one for the other."""
    view = view_of()
    levels = view.posterior.levels
    levels[:] = [1, 0, 0, 0, 0]
    light, heavy = view.network.index["101"], view.network.index["206"]
    levels[light], levels[heavy] = [0.2, 0.8, 0, 0, 0], [0.6, 0, 0, 0, 0.4]
    brief, monitor = (detection.sensitivity(m) for m in ("brief-visual", "interceptors"))
    assert 0.8 * brief[1] < 0.4 * brief[4]
    assert 0.8 * monitor[1] > 0.4 * monitor[4]
    assert listed(view, "brief-visual")[:2] == ["206", "101"]
    assert listed(view, "interceptors")[:2] == ["101", "206"]


def test_every_unit_is_listed_once_with_dense_ranks_in_each_status():
    rows = [find("101", 5), find("102", 40), treatment("102", 38), find("206", 3)]
    doors = rank_doors(view_of(rows, {"103": 0.3}), "brief-visual")
    assert sorted(d.unit for d in doors) == sorted(CODES)
    for status, count in (("look", 9), ("treat", 2), ("revisit", 1)):
        assert [d.rank for d in doors if d.status == status] == list(range(1, count + 1))
    assert [d.status for d in doors] == sorted((d.status for d in doors), key=STATUSES.index)


def test_units_to_treat_go_by_what_they_shed_and_units_to_revisit_by_the_day():
    rows = [find("101", 5), find("206", 3), find("103", 40), treatment("103", 38), treatment("204", 9)]
    view = view_of(rows, {"101": 0.9, "206": 0.95, "103": 0.1, "204": 0.2})
    view.posterior.levels[view.network.index["101"]] = [0.1, 0, 0, 0, 0.9]
    assert listed(view, status="treat") == ["101", "206"], "heavy before low though less sure"
    view.posterior.levels[view.network.index["101"]] = [0.1, 0, 0.9, 0, 0]
    assert listed(view, status="treat") == ["206", "101"], "low and surer before low"
    assert listed(view, status="revisit") == ["103", "204"], "late before coming though likelier clear"
    other = view_of([treatment("103", 9), find("204", 40), treatment("204", 38)])
    assert listed(other, status="revisit") == ["204", "103"], "and the other way round"
    late, coming = (d for d in rank_doors(view, "brief-visual") if d.status == "revisit")
    assert (late.visit.status, coming.visit.status) == ("overdue", "coming")
    assert visit_words(late, ON, ENGLISH).startswith("17 days late: the window was "), (
        "treated 38 days ago, 21 at the latest"
    )


@pytest.mark.parametrize(
    "tried",
    [row("204", 0, "no-access", "nobody-home"), clear("204", 0), row("204", 0, found="unsure")],
    ids=["nobody home", "clear", "unsure"],
)
def test_a_door_tried_today_waits_behind_the_others(tried):
    view = view_of([tried], {"204": 0.5, "101": 0.3})
    assert listed(view)[0] == "101"
    assert listed(view)[-1] == "204"


def test_a_door_tried_yesterday_does_not_wait():
    view = view_of([row("204", 1, "no-access")], {"204": 0.5, "101": 0.3})
    assert listed(view)[0] == "204"


def test_a_report_or_a_note_today_is_no_try():
    view = view_of([report("204", 0), row("204", 0, "note", note="x", id="n1")], {"204": 0.5, "101": 0.3})
    assert listed(view)[0] == "204"


def test_the_ring_of_a_find_is_marked_whatever_its_rank():
    # By hand: 103 stands between 101 and 105 and under 203; 104 is across the hallway.
    view = view_of([find("103", 5)], {"206": 0.5})
    marks = {d.unit: places(d.ring, ENGLISH) for d in rank_doors(view, "brief-visual") if d.ring}
    assert marks == {"101": "beside 103", "105": "beside 103", "203": "above 103"}
    view = view_of([find("203", 5)], across=True)
    marks = {d.unit: places(d.ring, ENGLISH) for d in rank_doors(view, "brief-visual") if d.ring}
    assert marks["103"] == "below 203"
    assert marks["204"] == "across the hallway from 203"


def test_a_unit_in_two_rings_has_both_marks():
    assert door(view_of([find("101", 5), find("105", 3)]), "103").ring == (BESIDE("101"), BESIDE("105"))


def test_the_ring_is_asked_for_until_the_neighbour_was_looked_at_after_the_find():
    found = find("103", 10)
    assert door(view_of([found, clear("101", 11)]), "101").ring == (BESIDE("103"),)
    assert door(view_of([found, row("101", 8, "no-access")]), "101").ring == (BESIDE("103"),)
    assert door(view_of([found, clear("101", 10)]), "101").ring == (), "looked at on the same round"
    assert door(view_of([found, clear("101", 8)]), "101").ring == ()


def test_the_ring_can_be_asked_for_in_part_or_not_at_all():
    assert {d.unit for d in rank_doors(view_of([find("103", 5)], ring="U"), "dog") if d.ring} == {"203"}
    assert not any(d.ring for d in rank_doors(view_of([find("103", 5)], ring=""), "dog"))


def test_every_door_says_what_its_chance_rests_on_and_never_outruns_a_bad_fit():
    view = view_of([clear("101", 9), find("102", 4)])
    assert [sure_words(door(view, u).sure, ENGLISH) for u in ("101", "102", "103")] == [
        "little to go on",
        "a find to go on",
        "nothing but neighbours to go on",
    ]
    bad = view_of(chances={"101": 0.97}, good=False)
    assert {d.sure for d in rank_doors(bad, "dog")} == {"unsettled"}


KIND = st.sampled_from(["find", "clear", "treatment", "report", "no-access", "moved-out", "alert"])


def made(unit, ago, kind, number):
    name = f"r{number:03d}"
    if kind in ("find", "clear", "treatment", "report"):
        return {"find": find, "clear": clear, "treatment": treatment, "report": report}[kind](
            unit, ago, id=name
        )
    if kind == "alert":
        return row(unit, ago, method="dog", found="yes", evidence="alert", id=name)
    return row(
        unit, ago, *{"no-access": ("no-access", ""), "moved-out": ("turnover", "moved-out")}[kind], id=name
    )


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.tuples(st.sampled_from(CODES), st.integers(-4, 200), KIND), max_size=14),
    st.lists(st.floats(0.0, 1.0), min_size=12, max_size=12),
    st.sampled_from(tuple(LOOKING)),
)
def test_whatever_the_log_every_unit_is_listed_once_with_a_reason(drawn, chances, method):
    rows = [made(unit, ago, kind, k) for k, (unit, ago, kind) in enumerate(drawn)]
    view = view_of(rows, dict(zip(CODES, chances, strict=True)))
    doors = rank_doors(view, method)
    assert sorted(d.unit for d in doors) == sorted(CODES)
    for status in STATUSES:
        group = [d for d in doors if d.status == status]
        assert [d.rank for d in group] == list(range(1, len(group) + 1))
    today = {r.unit for r in rows if r.when == ON and (r.is_look or r.kind == "no-access")}
    look = [d for d in doors if d.status == "look"]
    for part in ([d for d in look if d.unit not in today], [d for d in look if d.unit in today]):
        finds = [d.finds for d in part]
        assert finds == sorted(finds, reverse=True)
    assert [d.unit in today for d in look] == sorted(d.unit in today for d in look)
    for d in doors:
        assert reason_text(d.reasons, ENGLISH).endswith(".")
        assert 0.0 <= d.chance_of_find <= d.chance + 1e-12


def test_ranking_changes_nothing_it_was_given():
    view = view_of([find("103", 5)])
    before = view.posterior.levels.copy()
    assert rank_doors(view, "dog") == rank_doors(view, "dog")
    assert np.array_equal(view.posterior.levels, before)
    assert list(view.graph.nodes) == list(maple_contacts().nodes)


# What a door is worth, what it costs, and who asks for it


def test_a_door_says_what_a_find_is_worth_and_what_the_visit_costs():
    rows = [row("101", 9, "no-access"), find("206", 3), row("204", 5, "turnover", "moved-out")]
    view = view_of(rows, {"204": 0.5, "101": 0.3, "206": 0.9})
    pace = Pace(knock=4.0).with_look({"thorough-visual": 30.0})
    worth = worth_of_looking(view, "thorough-visual")
    for told in rank_doors(view, "thorough-visual", pace=pace):
        i = view.network.index[told.unit]
        # By hand: the prior says one visit in five shut, weighs five visits, and the office has a key.
        opens = {"101": 1 - 2 / 6, "206": 1 - 1 / 6, "204": 1.0}.get(told.unit, 0.8)
        assert told.opens == pytest.approx(opens)
        assert told.minutes == pytest.approx(4 + opens * 30)
        assert told.worth_of_find == pytest.approx(worth.of_a_find[i])
        assert told.worth == pytest.approx(opens * worth.expected[i])
        assert told.worth == pytest.approx(told.finds * told.worth_of_find)
        assert told.per_hour == pytest.approx(60 * told.worth / told.minutes)


def test_a_monitor_counts_both_of_its_visits():
    view = view_of(chances={"204": 0.5})
    told = door(view, "204", "interceptors")
    assert told.minutes == pytest.approx(effort_of(view, "interceptors", Pace()).whole[0])
    assert told.minutes > 2 * Pace().knock


def test_a_door_that_stays_shut_falls_back_by_finds_a_knock_and_by_benefit():
    """Equal but for four visits in vain: of 9 visits 5 are then expected shut, against 1 in 5."""
    rows = [row("104", ago, "no-access") for ago in (50, 40, 30, 20)]
    chances = {"104": 0.4, "204": 0.4}
    assert listed(view_of((), chances))[:2] == ["104", "204"], "equal doors stay in plan order"
    first, second = [d for d in rank_doors(view_of(rows, chances), "brief-visual") if d.status == "look"][:2]
    assert (first.unit, second.unit) == ("204", "104")
    assert first.finds == pytest.approx(0.8 * 0.4 * 0.57 * 0.9), "one look in ten ends unsure"
    assert second.finds == pytest.approx(4 / 9 * 0.4 * 0.57 * 0.9)
    assert access_words(second, ENGLISH) == "let in 44% (0 of 4 times so far)"
    doors = rank_doors(view_of(rows, chances), "brief-visual", order="benefit")
    look = [d for d in doors if d.status == "look"]
    assert [d.unit for d in look][:2] == ["204", "104"]
    assert [d.per_hour for d in look] == sorted((d.per_hour for d in look), reverse=True)
    assert [d.rank for d in look] == list(range(1, 13))


def test_by_benefit_a_door_amid_clear_units_comes_before_one_whose_contacts_are_infested_already():
    """Issue 4's own case: there is nothing left to save around the one."""
    chances = {"103": 0.3, "104": 0.3, "101": 0.97, "105": 0.97, "203": 0.97}
    rows = [found for unit in ("101", "105", "203") for found in (find(unit, 20), treatment(unit, 18))]
    view = view_of(rows, chances)
    assert door(view, "104").worth_of_find > door(view, "103").worth_of_find
    by_benefit = [d.unit for d in rank_doors(view, "brief-visual", order="benefit")]
    assert by_benefit.index("104") < by_benefit.index("103")


def test_an_unknown_order_is_one_sentence():
    with pytest.raises(
        SettingsError, match=r"^doors, order: 'luck' is no order of doors; use find or benefit"
    ):
        rank_doors(view_of(), "dog", order="luck")


def test_open_looks_are_those_that_the_rule_set_asks_for_and_nobody_has_done():
    """NPMA Best Management Practices 2016, 13.2, as in good-practice.toml: neighbours of a find are to be
    looked at before or with the first treatment. By hand: 103 lies beside 101 and 105 and under 203."""
    rows = [find("103", 9, evidence="live"), treatment("103", 6), clear("105", 5), row("203", 4, "no-access")]
    view = view_of(rows)
    looks = open_looks(view, load_rules())
    assert set(looks) == {"101", "203"}
    assert say(looks["101"], ENGLISH) == "look was due by Thu 9 May 2024"
    assert because_words(looks["101"], ENGLISH) == "beside 103; find in 103 on Mon 6 May 2024"
    assert (looks["101"].status, looks["101"].due, looks["101"].rule) == (
        "overdue",
        dt.date(2024, 5, 9),
        "good-practice",
    )
    assert say(looks["203"], ENGLISH) == "look was due by Thu 9 May 2024, tried without access"
    assert looks["203"].status == "cannot"
    assert "NPMA" in looks["203"].origin.source


def test_a_report_asks_for_a_look_without_a_date():
    (look,) = open_looks(view_of([report("204", 3)]), load_rules()).values()
    assert (say(look, ENGLISH), look.due) == ("look, the rule gives no date", None)
    assert not open_looks(view_of([report("204", 3), clear("204", 1)]), load_rules())


def test_a_dated_rule_says_its_day():
    """The days themselves are checked in tests/test_duties.py; here only that one is shown."""
    (look,) = open_looks(view_of([report("204", 0)]), load_rules("maine")).values()
    assert say(look, ENGLISH).startswith("look by ")
    assert say(look, ENGLISH).endswith(" May 2024")
    assert look.rule == "maine"


def test_a_duty_marks_a_door_and_moves_none():
    view = view_of([find("103", 9, evidence="live"), treatment("103", 6)], {"204": 0.5})
    looks = open_looks(view, load_rules())
    plain, marked = rank_doors(view, "dog"), rank_doors(view, "dog", looks=looks)
    assert [d.unit for d in plain] == [d.unit for d in marked]
    assert {d.unit for d in marked if d.duty} == set(looks) == {"101", "105", "203"}
    assert not any(d.duty for d in plain)
    assert {d.unit for d in marked if d.mandatory} == {"101", "105", "203"}


def test_a_ring_or_a_duty_alone_puts_a_door_on_the_list_whatever_its_rank():
    ringed = door(view_of([find("103", 5)]), "101")
    assert (bool(ringed.ring), ringed.duty, ringed.mandatory) == (True, None, True)
    view = view_of([report("204", 3)])
    owed = {d.unit: d for d in rank_doors(view, "dog", looks=open_looks(view, load_rules()))}
    assert (owed["204"].ring, bool(owed["204"].duty), owed["204"].mandatory) == ((), True, True)
    assert not owed["206"].mandatory


def test_a_unit_that_is_surely_clear_is_worth_nothing_and_a_visit_without_a_minute_is_no_fault():
    view = view_of(chances={"101": 0.4})
    view.posterior.levels[view.network.index["206"]] = [1, 0, 0, 0, 0]
    told = door(view, "206")
    assert (told.chance_of_find, told.worth_of_find, told.worth, told.per_hour) == (0.0, 0.0, 0.0, 0.0)
    quick = Pace(knock=0.125).with_look({"brief-visual": 0.25})
    for pace, minutes in ((quick, 0.125 + 0.8 * 0.25), (Pace(knock=0.0).with_look({"brief-visual": 0.0}), 0)):
        told = next(d for d in rank_doors(view, "brief-visual", pace=pace) if d.unit == "101")
        assert told.minutes == pytest.approx(minutes)
        assert told.per_hour == pytest.approx(60 * told.worth / max(minutes, 1e-9))


def test_a_door_has_up_to_three_reasons_the_weightiest_of_its_unit():
    rows = [report("204", 5), row("204", 3, "no-access"), find("103", 9), clear("204", 90)]
    view = view_of(rows, {"204": 0.3})
    for told in rank_doors(view, "dog"):
        assert 1 <= len(told.reasons) <= 3
        assert told.reasons == reasons_for(view, told.unit)[:3]

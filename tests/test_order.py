"""What lists and rounds maximise, and how: access, looks that repeat, order on the way, weights, old signs.

Sums are done by hand; what postpones or calms is tried on random logs.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest
from buildings import CODES, ON, clear, find, maple_row, report, row, treatment, view_of
from hypothesis import given, settings
from hypothesis import strategies as st
from small import made_plan
from test_round import instance

from spread.contacts.distances import distances_of
from spread.contacts.graph import build_contacts
from spread.decisions.case.case import case_of
from spread.decisions.doors.benefit import weeks_averted
from spread.decisions.doors.choice import finds_and_worth, rank_methods
from spread.decisions.doors.effort import effort_of, shut_chance, tries
from spread.decisions.doors.looking import AnotherLook, another_look, chances_of_yes
from spread.decisions.doors.ranking import prizes, rank_doors
from spread.decisions.doors.reasons import how_sure
from spread.decisions.doors.usual import usual_of
from spread.decisions.doors.why import ConfirmAlert, LookInTurn, explain
from spread.decisions.round.early import LONGER, likeliest_early
from spread.decisions.round.making import plan_round
from spread.decisions.round.parts import RoundSettings
from spread.decisions.round.walks import schedule
from spread.decisions.standing import OLD_AFTER, standing_of
from spread.posterior.dynamics import central_dynamics, network_of
from spread.posterior.fit import FitSettings, fit
from spread.posterior.looks import last_looks, look_likelihood
from spread.posterior.seeing import FIRST_ODDS, NO_ODDS, Names, Traits
from spread.programmes.tables import METHODS, tables_of
from spread.records.log import Log
from spread.settings import BuildingSettings
from spread.trade import detection
from spread.trade.pace import Pace
from spread.trade.prices import TREATMENT_MINUTES
from spread.trade.registry import LOOKING
from spread.words import ENGLISH, Voice, say
from spread.words.doors import access_words
from spread.words.round import carry_words

BRIEF = 0.57  #: A brief look finds a low infestation
SURE = 0.9  #: and does not end unsure
THOROUGH = detection.sensitivity("thorough-visual")[2]


def look_rows(view, **more):
    return [d for d in rank_doors(view, "brief-visual", **more) if d.status == "look"]


# Access ----------------------------------------------------------------------------------------------


def test_a_unit_that_refused_eight_times_does_not_lead_however_likely_it_is():
    rows = [row("101", 10 * k, "no-access", "refused") for k in range(1, 9)]
    view = view_of(rows, {"101": 0.95}, otherwise=0.10)
    doors = look_rows(view)
    assert doors[-1].unit == "101"
    (told,) = (d for d in doors if d.unit == "101")
    # By hand: Beta(1, 4) gives eight refusals in a row with 8! 4! / 12!; 0.03 of households always refuse.
    usual = 40320 * 24 / 479001600
    hard = 0.03 / (0.03 + 0.97 * usual)
    assert told.opens == pytest.approx((1 - hard) * 4 / 13)
    assert access_words(told, ENGLISH) == "let in 2% (0 of 8 times so far, refused 8)"


def test_being_let_in_once_ends_what_refusals_say_and_so_does_a_move_in():
    refused = [row("101", 10 * k, "no-access", "refused") for k in range(2, 5)]
    since = [*refused, clear("101", 5)]
    assert tries(since, standing_of(since, ON)).refused == 0
    assert shut_chance(since, standing_of(since, ON), Pace()) == pytest.approx((1 + 3) / (5 + 4))
    moved = [*refused, row("101", 1, "turnover", "moved-in")]
    assert shut_chance(moved, standing_of(moved, ON), Pace()) == pytest.approx(0.2)


@settings(max_examples=60, deadline=None)
@given(st.lists(st.sampled_from(["refused", "nobody-home", "in"]), max_size=15))
def test_a_refusal_makes_a_shut_door_likelier_and_never_less_than_nobody_home(seen):
    def rows(words):
        for k, word in enumerate(words):
            yield clear("101", 99 - k) if word == "in" else row("101", 99 - k, "no-access", word)

    def shut(*more):
        made = list(rows([*seen, *more]))
        return shut_chance(made, standing_of(made, ON), Pace())

    assert 0.0 < shut() < 1.0
    assert shut("refused") > shut()
    assert shut("refused") >= shut("nobody-home") > 0.0
    assert shut("in") < shut()


# One default -----------------------------------------------------------------------------------------


def test_list_and_round_have_one_default_and_both_obey_the_setting():
    assert BuildingSettings("x", ("1",)).order == RoundSettings().order == "find"
    chances = {"104": 0.42, "204": 0.40}
    rows = [row("104", ago, "no-access") for ago in (50, 40, 30, 20)]
    view, plan = view_of(rows, chances), maple_row()
    asked = RoundSettings(minutes=14.0, effort=20)
    for order in ("find", "benefit"):
        planned = plan_round(view, plan, distances_of(plan), replace(asked, order=order))
        prize, *_ = prizes(view, "brief-visual", effort_of(view, "brief-visual", Pace()), order)
        (unit,) = planned.units
        assert unit == "204" == look_rows(view, order=order)[0].unit
        assert prize.argmax() == view.network.index["204"]


def test_a_round_by_benefit_takes_the_door_that_saves_more_and_one_by_finds_the_likelier_one():
    chances = {"103": 0.31, "104": 0.3, "101": 0.97, "105": 0.97, "203": 0.97}
    rows = [one for unit in ("101", "105", "203") for one in (find(unit, 20), treatment(unit, 18))]
    view, plan = view_of(rows, chances), maple_row()
    asked = RoundSettings(minutes=14.0, effort=20)
    by = {
        order: plan_round(view, plan, distances_of(plan), replace(asked, order=order)).units
        for order in ("find", "benefit")
    }
    assert by == {"find": ("103",), "benefit": ("104",)}


# A likely door early ---------------------------------------------------------------------------------


def round_of_21():
    """The case: 21 doors fit into four hours, one of 32 %, the others under 15 %."""
    plan = made_plan(3, 4)
    graph = build_contacts(plan)
    units = list(graph.nodes)
    rng = np.random.default_rng(3)
    chances = {unit: float(p) for unit, p in zip(units, rng.uniform(0.02, 0.14, len(units)), strict=True)}
    return plan, graph, chances, units


@pytest.mark.parametrize("place", [0, 3, 11, 20, 22])
def test_a_door_at_32_percent_is_among_the_first_of_21_in_four_hours(place):
    plan, graph, chances, units = round_of_21()
    chances[units[place]] = 0.32
    view = view_of((), chances, graph=graph)
    planned = plan_round(view, plan, distances_of(plan), RoundSettings(minutes=240.0, effort=20))
    assert len(planned.units) >= 20
    assert planned.units.index(units[place]) <= len(planned.units) // 3
    assert planned.finish <= 240
    assert planned.held_back is None
    assert "The likeliest doors early" in carry_words(planned, ENGLISH)


def test_a_door_that_carry_over_holds_back_is_named_with_what_that_may_cost():
    plan, graph, chances, units = round_of_21()
    chances[units[5]] = 0.6
    view = view_of((), chances, graph=graph)
    planned = plan_round(view, plan, distances_of(plan), RoundSettings(minutes=240.0, effort=20))
    assert planned.units[-1] == units[5]
    told = planned.held_back
    assert told.units == (units[5],)
    assert told.finds == pytest.approx(0.8 * 0.6 * BRIEF * SURE)
    words = carry_words(planned, ENGLISH)
    assert units[5] in words
    assert "0.25 expected finds" in words


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 10_000), st.booleans())
def test_going_likeliest_first_keeps_doors_tiers_windows_and_nearly_the_time(seed, windows):
    task = instance(seed, 9, windows=windows)
    rng = np.random.default_rng(seed)
    route = ()
    for door in rng.permutation(9):
        if schedule(task, (*route, int(door)), 0) is not None:
            route = (*route, int(door))
    early = likeliest_early(task, task.worth, route, 0)
    assert sorted(early) == sorted(route)
    before, after = schedule(task, route, 0), schedule(task, early, 0)
    assert after is not None
    if route:
        assert after[-1][1] <= before[-1][1] + LONGER * task.until[0] + 1e-6
        wait = [
            sum(task.worth[d] * t[0] for d, t in zip(r, s, strict=True))
            for r, s in ((route, before), (early, after))
        ]
        assert wait[1] <= wait[0] + 1e-6


# Weights ---------------------------------------------------------------------------------------------


def test_a_heavy_week_counts_as_its_treatment_visit_does_and_ones_count_weeks():
    light = TREATMENT_MINUTES["light"].central
    wanted = [TREATMENT_MINUTES[size].central / light for size in ("light", "light", "moderate", "heavy")]
    view = view_of(chances={"204": 0.4}, level=4)
    assert list(view.week_costs) == wanted == [1.0, 1.0, 1.5, 2.0]
    i = view.network.index["204"]
    plain = replace(view, week_costs=(1.0, 1.0, 1.0, 1.0))
    averted = weeks_averted(
        view.network, view.dynamics, clear=1 - view.posterior.chance, usual=usual_of(view)
    )
    assert finds_and_worth(plain, "brief-visual")[1][i] == pytest.approx(0.4 * 0.98 * SURE * averted[i, 4])
    assert finds_and_worth(view, "brief-visual")[1][i] > 1.3 * finds_and_worth(plain, "brief-visual")[1][i]
    twice = replace(view, week_costs=(2.0, 2.0, 2.0, 2.0))
    np.testing.assert_allclose(
        finds_and_worth(twice, "brief-visual")[1], 2 * finds_and_worth(plain, "brief-visual")[1]
    )


# Looks that repeat -----------------------------------------------------------------------------------


def yes(view, unit, method="brief-visual"):
    return chances_of_yes(view, method)[view.network.index[unit], 2]


def test_a_new_look_finds_as_much_less_as_it_repeats_the_last_one():
    """By hand: 0.8 of the same day, 0.4 of one person within a fortnight; all looks by eye are one sense."""
    assert yes(view_of([clear("204", 0)]), "204") == pytest.approx(0.2 * BRIEF)
    assert yes(view_of([clear("204", 3, by="T1")]), "204") == pytest.approx(0.6 * BRIEF)
    assert yes(view_of([clear("204", 14, "thorough-visual", by="T1")]), "204") == pytest.approx(0.6 * BRIEF)
    assert yes(view_of([clear("204", 15, by="T1")]), "204") == pytest.approx(BRIEF)
    assert yes(view_of([clear("204", 3)]), "204") == pytest.approx(BRIEF), (
        "nobody named: another day is fresh"
    )
    assert yes(view_of([clear("204", 0, "dog", by="K9")]), "204") == pytest.approx(BRIEF), "another sense"
    assert yes(view_of([clear("204", 3, by="T1"), treatment("204", 1)]), "204") == pytest.approx(BRIEF)
    unsure = row("204", 3, "inspection", "brief-visual", "unsure", by="T1")
    assert yes(view_of([unsure]), "204") == pytest.approx(BRIEF)


def test_the_chance_of_a_new_look_is_the_one_that_the_model_gives_its_answer():
    """What the list expects and what the likelihood of the next row says are the same."""
    rows = [clear("204", 3, by="T1")]
    ahead = find("204", 0, by="T1", level="")
    last = last_looks([*rows, ahead])[ahead.id]
    now = look_likelihood(ahead, treated_before=False, last=last) / (1.0 - detection.unsure_chance())
    np.testing.assert_allclose(
        chances_of_yes(view_of(rows), "brief-visual")[view_of(rows).network.index["204"]], now
    )


def test_a_unit_looked_at_thoroughly_falls_behind_one_of_equal_chance_and_names_another_way():
    view = view_of([clear("204", 2, "thorough-visual", by="T1")], {"204": 0.3, "104": 0.29})
    doors = {d.unit: d for d in look_rows(view)}
    assert doors["104"].rank == 1
    assert doors["204"].finds == pytest.approx(5 / 6 * 0.3 * 0.6 * BRIEF * SURE)
    told = doors["204"].instead
    assert told == AnotherLook("thorough-visual", 2, 0.4, told.instead, ON + dt.timedelta(13))
    assert LOOKING[told.instead].key not in ("brief-visual", "thorough-visual")
    assert "nothing found, which clears nothing" in say(told, ENGLISH)
    assert "What a rule asks for is not put off" in say(told, ENGLISH)
    assert explain(view, "204", "thorough-visual").next_step.fact == "another-look"
    assert explain(view, "104", "thorough-visual").next_step == LookInTurn("thorough-visual")
    best = rank_methods(view, ["204"])
    same = next(one for one in best if one.method == "thorough-visual")
    assert same.finds == pytest.approx(5 / 6 * 0.3 * 0.6 * THOROUGH * SURE)


LOOK = st.tuples(
    st.sampled_from(CODES[:4]),
    st.integers(0, 60),
    st.sampled_from(["look", "dog", "find", "report", "treat", "shut", "monitor"]),
    st.sampled_from(["", "T1", "T2"]),
)


def made(k, unit, ago, kind, by):
    more = {"by": by, "id": f"m{k}"}
    return {
        "look": lambda: clear(unit, ago, **more),
        "dog": lambda: clear(unit, ago, "dog", **more),
        "find": lambda: find(unit, ago, **more),
        "report": lambda: report(unit, ago, **more),
        "treat": lambda: treatment(unit, ago, **more),
        "shut": lambda: row(unit, ago, "no-access", **more),
        "monitor": lambda: row(unit, ago, "monitor", "interceptors", "no", days=14, **more),
    }[kind]()


@settings(max_examples=120, deadline=None)
@given(
    st.lists(LOOK, max_size=12), st.sampled_from(["brief-visual", "thorough-visual", "dog", "interceptors"])
)
def test_a_look_is_put_off_only_where_one_found_nothing_and_nobody_asks_for_one(drawn, method):
    rows = [made(k, *one) for k, one in enumerate(drawn)]
    view = view_of(rows, dict.fromkeys(CODES, 0.2))
    for told in rank_doors(view, method):
        one = told.instead
        if one is None:
            continue
        mine = view.log.of(told.unit)
        assert told.status == "look"
        last = max((r for r in mine if r.is_look and r.method == one.method), key=lambda r: (r.when, r.id))
        assert last.found == "no"
        assert 0.0 < one.share < 1.0
        assert one.instead in LOOKING
        assert yes(view, told.unit, method) < yes(view_of(), told.unit, method)
        if one.again is not None:
            assert one.again > ON
            assert (one.again - last.when).days <= detection.SAME_PERSON_DAYS + 1
            assert not told.mandatory
            assert not any(r.is_complaint and r.when >= last.when for r in mine)


@pytest.mark.parametrize("by", ["", "T1"])
def test_two_looks_of_one_day_do_not_make_a_unit_well_looked_at(by):
    """By hand: 0.4 is missed, and 1 - 0.2 * 0.6 of that again: 0.352. Of two days it is 0.4 * 0.4."""
    first = clear("204", 5, by=by)
    assert how_sure(view_of([first]), "204") == "little"
    assert how_sure(view_of([first, clear("204", 5, by=by, id="u", count=0)]), "204") == "little"
    assert how_sure(view_of([first, clear("204", 3, by="T2")]), "204") == "looked"


# Learned sensitivities -------------------------------------------------------------------------------


def learned(view, method=1.0, person=1.0):
    """The same view after a log that taught odds of a find."""
    draws = np.ones((4, FIRST_ODDS + 2))
    draws[:, FIRST_ODDS], draws[:, FIRST_ODDS + 1] = method, person
    none = np.zeros(view.network.size)
    names = Names(("brief-visual",), ("T1",), ())
    return replace(view, posterior=replace(view.posterior, traits=Traits(draws, none, none), names=names))


def test_what_the_log_taught_of_methods_and_people_is_in_list_round_and_programmes():
    view = view_of(chances={"204": 0.4})
    half = learned(view, method=0.5, person=0.5)
    odds = 0.25 * BRIEF / (1 - BRIEF)
    wanted = odds / (1 + odds)
    assert view.posterior.odds == NO_ODDS
    assert half.posterior.odds.of_next("brief-visual") == pytest.approx(0.25)
    assert half.posterior.odds.of_next("brief-visual", "T9") == pytest.approx(0.5), "somebody new"
    assert half.posterior.odds.of_record(clear("204", 1)) == (pytest.approx(0.5), 1.0)
    assert yes(half, "204") == pytest.approx(wanted)
    door = next(d for d in look_rows(half) if d.unit == "204")
    assert door.chance_of_find == pytest.approx(0.4 * wanted)
    assert finds_and_worth(half, "brief-visual")[0][half.network.index["204"]] == pytest.approx(
        0.4 * wanted * SURE
    )
    found = tables_of(half.dynamics, half.posterior.odds).found[METHODS.index("brief-visual")]
    assert found[2] == pytest.approx(wanted)
    assert found[0] == tables_of(half.dynamics).found[METHODS.index("brief-visual"), 0]
    seen = [clear("204", 30, "thorough-visual", by="T1")]
    assert how_sure(view_of(seen), "204") == "looked"
    assert how_sure(learned(view_of(seen), person=0.3), "204") == "little", "a person who misses much"


# Rows that repeat ------------------------------------------------------------------------------------


def test_a_row_written_down_twice_counts_once_in_what_is_worked_out():
    twice = [treatment("204", 20), treatment("204", 20, id="again", note="typed twice")]
    log = Log((find("204", 30), *twice))
    assert len(log.of("204")) == 3, "nothing is lost"
    assert log.worked_out("204", ON, len) == 2
    view = view_of([find("204", 30), *twice])
    assert view.followups["204"].case.treatments == 1
    longer = log.longer([clear("204", 1), clear("204", 1, id="copy")])
    assert longer.worked_out("204", ON, len) == 3


# Old stains ------------------------------------------------------------------------------------------


def stains(ago, **more):
    return row(
        "204", ago, "inspection", "brief-visual", "yes", evidence=more.pop("evidence", "stains"), **more
    )


TREATED = [find("204", 300), treatment("204", 290), clear("204", 250), clear("204", 200)]
"""Found, treated, and twice looked at with nothing found."""


def test_old_stains_alone_long_after_a_treatment_with_clear_looks_are_no_known_infestation():
    rows = [*TREATED, stains(4)]
    standing = standing_of(rows, ON)
    assert standing.status == "look"
    assert standing.last_alert.when == ON - dt.timedelta(4)
    case = case_of(rows, "204", ON)
    assert (case.stage, case.calm, case.outcome) == ("open", False, "unsure"), "not dismissed either"
    view = view_of(rows, {"204": 0.1})
    assert view.followups["204"].status == "look"
    assert explain(view, "204", "brief-visual").next_step == ConfirmAlert()
    words = " ".join(say(reason, ENGLISH) for reason in explain(view, "204", "brief-visual").reasons)
    assert "which confirms nothing" in words
    assert "stains" in words


@pytest.mark.parametrize(
    "rows",
    [
        [stains(4)],  # nobody ever treated
        [*TREATED[:2], stains(4)],  # nobody looked since
        [*TREATED[:3], stains(4)],  # one clear look
        [*TREATED, stains(4, evidence="stains+live")],
        [*TREATED, stains(4, level="moderate")],
        [*TREATED, stains(4, count=3)],
        [find("204", 100), treatment("204", OLD_AFTER + 3), clear("204", 60), clear("204", 40), stains(4)],
    ],
)
def test_anything_that_speaks_of_bugs_that_live_there_now_is_a_find(rows):
    assert standing_of(rows, ON).status == "treat"


def test_a_rule_that_calls_stains_old_agrees_with_the_model_and_so_does_one_that_calls_them_a_find():
    """Fits of one unit: where the rule says that nothing is known the model does too, and the other way."""
    network = network_of(view_of().graph)

    def chance(rows):
        fitted = fit(
            network, rows, central_dynamics(), on=ON, settings=FitSettings(52, 4, 100, 300, 300, seed=3)
        )
        return fitted.chance[fitted.index["204"]]

    old = [*TREATED, stains(4)]
    live = [*TREATED, stains(4, evidence="live")]
    assert standing_of(old, ON).status == "look"
    assert chance(old) < 0.5
    assert standing_of(live, ON).status == "treat"
    assert chance(live) > 0.5


@settings(max_examples=80, deadline=None)
@given(
    st.lists(
        st.tuples(st.integers(0, 400), st.sampled_from(["clear", "find", "treat", "stains"])), max_size=8
    )
)
def test_stains_are_called_old_only_long_after_a_treatment_and_after_two_clear_looks(drawn):
    kinds = {"clear": clear, "find": find, "treat": treatment}
    rows = [
        stains(ago, id=f"s{k}") if kind == "stains" else kinds[kind]("204", ago, id=f"s{k}")
        for k, (ago, kind) in enumerate(drawn)
    ]
    standing = standing_of(rows, ON)
    if standing.status != "look" or standing.last_alert is None:
        return
    sign = standing.last_alert
    treated = [r for r in rows if r.kind == "treatment" and r.when <= sign.when]
    assert treated
    last = max(r.when for r in treated)
    assert (sign.when - last).days >= OLD_AFTER
    assert sum(r.is_look and r.found == "no" and last < r.when <= sign.when for r in rows) >= 2


def test_what_calms_or_puts_off_is_said_in_spanish_too():
    view = view_of([clear("204", 2, by="T1")])
    told = another_look(view, "204", "brief-visual", owed=True)
    assert told.again is None
    assert say(told, Voice("es")) != say(told, ENGLISH)

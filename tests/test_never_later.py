"""No event makes a due visit later: only the visit itself, or taking a row back, moves what is owed.

What may move it, because it is the visit: a treatment, a monitor that was read, a look by eye, a find by any
method. Besides those: a row taken back, a unit that is gone from the plan, and a clearance that the rule of
the house gives, which a falling chance alone may complete.
"""

import datetime as dt

import pytest
from buildings import ON, clear, day, find, maple_contacts, report, row, treatment
from hypothesis import given, settings
from hypothesis import strategies as st
from test_followup import INTACT, RULES, cleared_rows, period, told

from spread.decisions.case.case import case_of
from spread.decisions.case.followup import revisits
from spread.decisions.case.visits import is_visit
from spread.decisions.duties.owed import duties
from spread.records.kinds import Finding
from spread.records.log import Log
from spread.trade.rules import load_rules
from spread.words import ENGLISH
from spread.words.followup import sentences

AGO = st.integers(0, 200)
TRAPS = (Finding("interceptors", place="bed 1 leg 1"),)
OTHER_BED = tuple(Finding(item, place="bed 2") for item in ("mattress", "box-spring", "bed-frame"))

NO_VISIT = st.one_of(
    st.builds(lambda ago: report("101", ago), AGO),
    st.builds(lambda ago: report("101", ago, found="no"), AGO),
    st.builds(lambda ago: row("101", ago, method="dog", found="yes", evidence="alert"), AGO),
    st.builds(lambda ago, items: clear("101", ago, "dog", items=items), AGO,
              st.sampled_from([(), OTHER_BED])),
    st.builds(lambda ago: row("101", ago, method="dog", found="unsure"), AGO),
    st.builds(lambda ago, found: row("101", ago, method="interview", found=found), AGO,
              st.sampled_from(["yes", "no", "unsure"])),
    st.builds(lambda ago, method: row("101", ago, "no-access", method), AGO,
              st.sampled_from(["", "refused"])),
    st.builds(lambda ago, method: row("101", ago, "turnover", method), AGO,
              st.sampled_from(["moved-out", "moved-in", ""])),
    st.builds(lambda ago, method: row("101", ago, "note", method), AGO,
              st.sampled_from(["entry-notice", "acknowledged", "contact", "result-notice", ""])),
    st.builds(lambda ago, method: row("101", ago, "note", method, items=TRAPS), AGO,
              st.sampled_from(["traps-set", "traps-taken-up"])),
)  # fmt: skip
VISIT = st.one_of(
    st.builds(lambda ago: find("101", ago), AGO),
    st.builds(lambda ago: find("101", ago, "heavy"), AGO),
    st.builds(lambda ago: row("101", ago, method="dog", found="yes", evidence="live"), AGO),
    st.builds(lambda ago, items: clear("101", ago, items=items), AGO, st.sampled_from([(), INTACT])),
    st.builds(lambda ago: row("101", ago, method="brief-visual", found="unsure"), AGO),
    st.builds(lambda ago, days: period(ago, days=days), AGO, st.integers(7, 30)),
    st.builds(lambda ago: treatment("101", ago), AGO),
)
HISTORY = st.one_of(
    st.lists(st.one_of(VISIT, NO_VISIT), max_size=14),
    st.builds(lambda end, more: [*cleared_rows(end=end), *more], st.integers(0, 150),
              st.lists(st.one_of(VISIT, NO_VISIT), max_size=4)),
)  # fmt: skip


def owed(one):
    """Whether the lists have the unit as one to visit now."""
    groups = revisits([one])
    return bool(groups["overdue"] or groups["due"]) or (one.status == "treat" and one.visit is not None)


@pytest.mark.parametrize("late", [17, 60])
def test_bites_of_today_in_a_unit_whose_revisit_is_late_leave_it_late(late):
    rows = [find("101", 30 + late), treatment("101", 21 + late)]
    before, after = told(rows).visit, told([*rows, report("101", 0)]).visit
    assert before.status == "overdue"
    assert (after.status, after.target, after.latest) == ("overdue", before.target, before.latest)
    assert after.latest == ON - dt.timedelta(days=late)
    said = " ".join(sentences(told([*rows, report("101", 0)]), ENGLISH))
    assert "Overdue" in said
    assert "since the report of" in said, "and what came since is said too"


def test_bites_ask_for_somebody_before_the_window_of_the_treatment():
    visit = told([find("101", 8), treatment("101", 4), report("101", 1)]).visit
    assert (visit.kind, visit.earliest, visit.target, visit.latest) == ("confirm", day(1), day(-6), day(-13))
    assert visit.before is None


def test_a_second_find_puts_no_treatment_off():
    rows = [find("101", 20), find("101", 1, "heavy")]
    assert told(rows).visit.target == told(rows[:1]).visit.target == day(13)
    acts = {act.what: act.since for act in case_of(rows, "101", ON).acts}
    assert acts["treat"] == day(20)


def test_a_watch_that_is_due_stays_due_after_a_report():
    rows = cleared_rows(end=60)
    assert owed(told(rows))
    again = told([*rows, report("101", 0)])
    assert (again.state, again.status) == ("looked-for", "revisit")
    assert again.visit.target == told(rows).visit.target


@pytest.mark.parametrize(("ago", "periods"), [(0, 2), (40, 1), (90, 0)])
def test_traps_that_are_set_anew_end_no_follow_up(ago, periods):
    """A late note can make older periods uncounted: that takes away clearance, never the visit."""
    rows = [find("101", 80), treatment("101", 75), period(50), period(30)]
    more = [row("101", ago, "note", "traps-set", items=TRAPS)]
    if periods == 0:
        more.append(row("101", 70, "note", "traps-taken-up"))
    after = told([*rows, *more])
    assert after.periods == periods
    assert owed(after)
    assert after.visit.target == told(rows).visit.target


@settings(max_examples=300, deadline=None)
@given(HISTORY, NO_VISIT, st.sampled_from([0.0, 0.9]), RULES)
def test_no_row_that_is_no_visit_makes_a_visit_later_or_takes_it_away(rows, more, chance, rule):
    assert not is_visit(more)
    before, after = told(rows, chance=chance, rule=rule), told([*rows, more], chance=chance, rule=rule)
    if before.visit is None:
        return
    assert after.visit is not None
    assert after.visit.target <= before.visit.target
    assert after.visit.latest <= before.visit.latest
    if owed(before):
        assert owed(after)


@settings(max_examples=150, deadline=None)
@given(HISTORY, NO_VISIT)
def test_no_row_that_is_no_visit_puts_off_who_must_act(rows, more):
    """What the office and the firm owe counts from the first row that asked for it."""
    before, after = case_of(rows, "101", ON), case_of([*rows, more], "101", ON)
    later = {act.what: act.since for act in after.acts}
    for act in before.acts:
        if act.what == "acknowledge" and more.method in ("acknowledged", "contact", "dog", "interview"):
            continue
        if act.what in ("treat", "follow-up", "acknowledge"):
            assert later[act.what] <= act.since


RULE_SETS = ("philadelphia", "new-york-city", "good-practice")


@settings(max_examples=60, deadline=None)
@given(st.sampled_from(RULE_SETS), st.lists(st.one_of(VISIT, NO_VISIT), max_size=8), NO_VISIT)
def test_no_row_makes_a_duty_later_unless_it_proves_it(name, rows, more):
    """Rows in the order in which they happen; what was asked is asked still, by the same day or sooner."""
    last = min((ON - r.when).days for r in rows) if rows else 200
    if (ON - more.when).days > last:
        return
    rules, graph = load_rules(name), maple_contacts()

    def open_duties(log):
        return {(d.unit, d.deadline.key): d for d in duties(Log(tuple(log)), graph, rules, ON) if not d.proof}

    rows = list({r.id: r for r in rows}.values())
    if more.id in {r.id for r in rows}:
        return
    before, after = open_duties(rows), open_duties([*rows, more])
    done = {
        (d.unit, d.deadline.key) for d in duties(Log((*rows, more)), graph, rules, ON) if d.proof == more.id
    }
    for key, duty in before.items():
        if key in done:
            continue
        assert key in after
        assert (after[key].due or dt.date.max) <= (duty.due or dt.date.max)

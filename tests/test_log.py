"""A log that grew row by row says the same as one read whole, and so does everything worked out from it."""

import datetime as dt
from dataclasses import replace

import pytest
from buildings import CODES, ON, clear, day, find, maple_contacts, report, row, treatment, view_of
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from spread.decisions.doors.ranking import open_looks, rank_doors
from spread.decisions.doors.reasons import _course
from spread.decisions.duties.owed import _events, _is_event, _known_infested, duties
from spread.decisions.standing import is_find, standing_of
from spread.errors import RecordError
from spread.records.kinds import Record
from spread.records.log import Log
from spread.trade.rules import load_rules, rule_ids

UNITS = CODES[:4]


@st.composite
def made_rows(draw, units=UNITS, most=400):
    """A row of any kind that the decisions tell apart."""
    unit, ago = draw(st.sampled_from(units)), draw(st.integers(-3, most))
    return draw(
        st.sampled_from(
            (
                find(unit, ago),
                find(unit, ago, "heavy"),
                clear(unit, ago),
                clear(unit, ago, "thorough-visual"),
                row(unit, ago, "monitor", "interceptors", "no", days=14),
                row(unit, ago, "inspection", "dog", "yes", evidence="alert"),
                treatment(unit, ago),
                report(unit, ago, found="yes"),
                row(unit, ago, "no-access"),
                row(unit, ago, "turnover"),
                row(unit, ago, "turnover", "moved-out"),
                row(unit, ago, "note", note="result: letter handed over"),
            )
        )
    )


def told_of(log, view, rules):
    """Return everything that decisions keep with the rows of a log."""
    view = replace(view, log=log)
    looks = open_looks(view, rules)
    return (
        log.current,
        {unit: (log.of(unit), log.of(unit, ON)) for unit in CODES},
        dict(log.by_id),
        {row.id: log.corrected_by(row.id) for row in log.rows},
        sorted(log.on_day(ON), key=lambda row: row.id),
        view.standings,
        view.followups,
        view.tried_today,
        duties(log, view.graph, rules, ON),
        rank_doors(view, "brief-visual", looks=looks),
    )


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.data())
def test_what_is_kept_with_the_rows_is_what_a_log_read_whole_gives(data):
    rules = load_rules(data.draw(st.sampled_from(sorted(rule_ids()))))
    chances = {unit: data.draw(st.sampled_from((0.01, 0.3, 0.9))) for unit in UNITS}
    log, before = Log(), []
    for i in range(data.draw(st.integers(1, 8))):
        more = []
        for j in range(data.draw(st.integers(1, 3))):
            made = replace(data.draw(made_rows()), id=f"r{i}-{j}")
            known = [*log.rows, *more]
            open_ = [one.id for one in known if one.id not in {other.supersedes for other in known}]
            if open_ and data.draw(st.booleans()):
                made = replace(made, supersedes=data.draw(st.sampled_from(open_)))
            more.append(made)
        view = view_of((), chances, good=data.draw(st.booleans()))
        before.append((log, log.rows))
        log = log.with_row(more[0]) if len(more) == 1 else log.longer(more)
        assert told_of(log, view, rules) == told_of(Log(log.rows), view, rules)
    for old, rows in before:
        assert old == Log(rows)
        assert (old.current, dict(old.by_id)) == (Log(rows).current, dict(Log(rows).by_id)), "never changed"


def test_two_logs_that_go_on_from_one_do_not_see_each_other():
    first = Log([report("101", 9, id="a")])
    one, other = first.with_row(report("102", 8, id="b")), first.with_row(clear("103", 7, id="b"))
    assert [len(first), len(one), len(other)] == [1, 2, 2]
    assert one.by_id["b"].unit == "102"
    assert other.by_id["b"].unit == "103"
    assert "b" not in first.by_id
    assert one != other
    assert one == Log(one.rows)
    with pytest.raises(RecordError, match="is taken"):
        one.with_row(other.by_id["b"])


def test_a_row_of_one_unit_leaves_what_was_worked_out_of_the_others():
    counted = []

    def rows_of(rows, word):
        counted.append(rows)
        return len(rows), word

    log = Log([report("101", 9, id="a"), report("102", 8, id="b")])
    for unit in ("101", "102"):
        assert log.worked_out(unit, ON, rows_of, "x") == (1, "x")
    log = log.with_row(report("102", 7, id="c"))
    assert log.worked_out("101", ON, rows_of, "x") == (1, "x")
    assert len(counted) == 2
    assert log.worked_out("102", ON, rows_of, "x") == (2, "x")
    assert log.worked_out("102", ON, rows_of, "y") == (2, "y")
    assert log.worked_out("102", day(8), rows_of, "y") == (1, "y"), "another day is another answer"
    log = log.with_row(row("101", 6, "note", supersedes="a", id="d"))
    assert [one.id for one in log.of("101")] == ["d"]
    assert log.worked_out("103", ON, rows_of, "x") == (0, "x")


def by_day(rows):
    return sorted(rows, key=lambda row: (row.when, row.id))


@settings(max_examples=300, deadline=None)
@given(st.lists(made_rows(("101",), 1000), max_size=25))
def test_the_course_of_an_infestation_begins_where_a_walk_through_all_rows_says(rows):
    rows = by_day(replace(one, id=f"r{i}") for i, one in enumerate(rows))
    begins = dt.date.min
    for one in filter(is_find, rows):
        if standing_of(rows, one.when - dt.timedelta(days=1)).status == "look":
            begins = one.when
    assert _course(rows) == [one for one in rows if one.when >= begins]


@settings(max_examples=300, deadline=None)
@given(
    st.lists(made_rows(("101",), 1000), max_size=25),
    st.sampled_from(("report", "inspection", "find", "confirmed-find")),
    st.integers(0, 400),
)
def test_events_from_a_day_on_are_those_of_a_walk_through_all_rows(rows, event, ago):
    rows = by_day(replace(one, id=f"r{i}") for i, one in enumerate(rows))
    chosen: list[Record] = []
    for one in rows:
        if not _is_event(one, event) or (chosen and chosen[-1].when == one.when):
            continue
        if event in ("find", "confirmed-find") and chosen:
            recent = one.when - chosen[-1].when <= dt.timedelta(weeks=26)
            if recent and _known_infested(rows, one.when):
                continue
        chosen.append(one)
    assert _events(rows, event, 26, day(ago)) == [one for one in chosen if one.when >= day(ago)]


def test_the_duties_of_a_building_do_not_depend_on_how_its_log_came_together():
    rows = [find("101", 30, id="f"), report("103", 20, id="p", found="yes"), treatment("101", 10, id="t")]
    rules = load_rules(sorted(rule_ids())[0])
    log = Log()
    for one in rows:
        log = log.with_row(one)
    assert duties(log, maple_contacts(), rules, ON) == duties(Log(rows[::-1]), maple_contacts(), rules, ON)

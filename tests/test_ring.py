"""The ring around a complaint, against orders worked out by hand on plans drawn by hand.

Looking at the units beside, above and below a complaint is common practice, no source.
"""

import networkx as nx
import pytest
from buildings import ON, clear, find, report, row, treatment
from contact_plans import corridor_building
from hypothesis import given, settings
from hypothesis import strategies as st

from benchmarks.ring import COMPLAINT_WEEKS, ring_order
from spread.contacts.graph import build_contacts
from spread.decisions.standing import standing_of
from spread.records.log import Log


@pytest.fixture(scope="module")
def house():
    """Three floors, three units a side: 201 beside 203 beside 205, 202 across from 201, 301 above 201."""
    return build_contacts(corridor_building(3, 3))


def order(graph, *rows, across=True):
    log = Log(rows)
    standings = {unit: standing_of(log.of(unit), ON) for unit in graph.nodes}
    return ring_order(graph, log.current, standings, ON, across=across)


def test_without_any_record_the_order_is_that_of_the_plan(house):
    assert order(house) == list(house.nodes)


def test_a_complaint_comes_first_then_beside_above_below_and_across(house):
    # By hand on the plan: 203 stands between 201 and 205, under 303, over 103, across from 204.
    found = order(house, report("203", 3))
    assert found[:3] == ["203", "201", "205"]
    assert found[3:5] == ["303", "103"]
    assert found[5] in ("202", "204", "206")
    assert "204" in found[5:8]


def test_without_across_the_ring_is_left_right_above_and_below(house):
    found = order(house, report("203", 3), across=False)
    assert found[:5] == ["203", "201", "205", "303", "103"]
    # The ring around that ring in its order: 201's above and below, then 205's, ...
    assert found[5:9] == ["301", "101", "305", "105"]
    assert found[9:] == [unit for unit in house.nodes if unit not in found[:9]], "the other side comes last"


def test_the_newest_complaint_comes_first_and_its_ring_too(house):
    found = order(house, report("101", 20), report("306", 2), across=False)
    assert found[:2] == ["306", "101"]
    assert found[2:4] == ["304", "206"], "306 stands at the end of its side, on the top floor"
    assert found[4:6] == ["103", "201"]


def test_a_unit_reported_twice_counts_from_the_newest(house):
    found = order(house, report("101", 30), report("306", 20), report("101", 1))
    assert found[:2] == ["101", "306"]


def test_an_old_complaint_and_one_that_saw_nothing_are_not_followed(house):
    old = report("306", 7 * COMPLAINT_WEEKS + 1)
    assert order(house, old) == list(house.nodes)
    assert order(house, report("306", 7 * COMPLAINT_WEEKS))[0] == "306"
    assert order(house, report("306", 3, found="no")) == list(house.nodes)


def test_a_complaint_looked_at_since_has_had_its_visit_and_keeps_its_ring(house):
    found = order(house, report("203", 6), clear("203", 4), across=False)
    assert found[:4] == ["201", "205", "303", "103"]
    assert "203" in found[4:]


def test_a_complaint_looked_at_on_its_day_has_had_its_visit(house):
    found = order(house, report("203", 6), clear("203", 6), across=False)
    assert found[:4] == ["201", "205", "303", "103"]


def test_a_complaint_that_was_confirmed_later_counts_from_the_find(house):
    found = order(house, report("306", 40), report("101", 20), find("306", 2), across=False)
    assert found[:3] == ["101", "304", "206"]


def test_a_shut_door_does_not_count_as_a_visit(house):
    assert order(house, report("203", 6), row("203", 4, "no-access"))[0] == "203"


def test_a_known_unit_is_left_out_and_its_ring_asked_for(house):
    found = order(house, find("203", 5), across=False)
    assert "203" not in found
    assert found[:4] == ["201", "205", "303", "103"]
    treated = order(house, find("203", 9), treatment("203", 5), across=False)
    assert treated == found


def test_a_newer_find_goes_before_an_older_complaints_ring(house):
    found = order(house, report("101", 9), find("306", 2), across=False)
    assert found[0] == "101", "the complaint itself waits for its first look"
    assert found[1:3] == ["304", "206"]
    assert found[3:5] == ["103", "201"]


def test_units_without_contacts_are_listed_last_in_plan_order():
    graph = nx.MultiGraph()
    for index, unit in enumerate("abc"):
        graph.add_node(unit, index=index)
    assert order(graph, report("c", 1)) == ["c", "a", "b"]


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.tuples(st.integers(0, 17), st.integers(-5, 90), st.sampled_from("rfct")), max_size=12),
    st.booleans(),
)
def test_every_unit_that_is_not_known_is_listed_once(house, drawn, across):
    units = list(house.nodes)
    make = {"r": report, "f": find, "c": clear, "t": treatment}
    rows = [make[kind](units[u], ago, id=f"r{k}") for k, (u, ago, kind) in enumerate(drawn)]
    log = Log(tuple(rows))
    known = {unit for unit in units if standing_of(log.of(unit), ON).status != "look"}
    found = order(house, *rows, across=across)
    assert len(found) == len(set(found))
    assert set(found) == set(units) - known
    assert order(house, *reversed(rows), across=across) == found

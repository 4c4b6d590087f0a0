"""A measured route: its words are those of its row, in the reader's language, and it gives each pair once."""

import math

import networkx as nx
import pytest
import shapely

from spread.contacts import relations
from spread.contacts.exposure import ExposureSettings
from spread.contacts.measured import Measured, measured
from spread.contacts.relations import Tied, ways_between
from spread.plan.model import Plan, Unit
from spread.trade.route_rows import ROWS, Route
from spread.words import Voice, say

UNITS = {
    code: Unit(code, {"1": shapely.box(8 * at, 0, 8 * at + 7, 7)}) for at, code in enumerate(("1A", "1B"))
}
PLAN = Plan(name="Two", floors=("1",), units=UNITS)
STAIRS = Route(
    key="stairwell",
    name="Shared stairs",
    contacts="pairs on the same stairs",
    rate=ROWS[0].rate,
    words="uses the same stairs as",
    measured_by=f"{__name__}:stairs",
)
GIVEN: list[Measured] = []


def stairs(_plan, _settings):
    return list(GIVEN)


def contacts(*given):
    GIVEN[:] = given
    return list(measured(STAIRS, PLAN, ExposureSettings()))


def test_a_pair_is_taken_as_it_was_measured():
    assert contacts(Measured("1A", "1B", 0.5)) == [Measured("1A", "1B", 0.5)]


@pytest.mark.parametrize(
    ("given", "why"),
    [
        ((Measured("1A", "1B", 1.0), Measured("1B", "1A", 1.0)), "comes once"),
        ((Measured("1A", "1A", 1.0),), "with itself"),
        ((Measured("1A", "9Z", 1.0),), "no such unit"),
        ((Measured("1A", "1B", 0.0),), "more than 0"),
        ((Measured("1A", "1B", math.nan),), "more than 0"),
    ],
)
def test_a_contact_that_cannot_be_is_refused_with_its_route_and_units(given, why):
    with pytest.raises(AssertionError, match=f"stairwell, 1[AB] and .*{why}"):
        contacts(*given)


def test_it_reads_on_in_the_words_of_its_row_or_those_of_a_pair(monkeypatch):
    monkeypatch.setattr(relations, "ROUTES", (*relations.ROUTES, STAIRS.key))
    monkeypatch.setattr(relations, "BY_KEY", {**relations.BY_KEY, STAIRS.key: STAIRS})
    graph = nx.MultiGraph()
    graph.add_edge("1A", "1B", key=STAIRS.key, route=STAIRS.key)
    assert ways_between(graph, "1A", "1B") == {STAIRS.key: Tied("1B", "uses the same stairs as")}
    graph.edges["1A", "1B", STAIRS.key]["words"] = "shares the fire stairs with"
    assert ways_between(graph, "1A", "1B") == {STAIRS.key: Tied("1B", "shares the fire stairs with")}


def test_words_of_a_row_are_said_in_the_readers_language_and_those_of_a_house_as_they_are():
    assert say(Tied("204", "is tied to"), Voice("en")) == "is tied to 204"
    assert say(Tied("204", "is tied to"), Voice("es")) == "está vinculada con 204"
    assert say(Tied("204", "shares a laundry with"), Voice("es")) == "shares a laundry with 204"

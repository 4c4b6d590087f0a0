"""One unit explained: figures that add up, sources with their shares, and what to do next."""

import datetime as dt
from itertools import pairwise

import networkx as nx
import pytest
from buildings import ON, clear, find, maple_contacts, report, row, treatment, view_of

from spread.contacts.links import Link
from spread.decisions.why import explain, sources_of
from spread.trade.biology import LEVEL_NAMES
from spread.weeks import monday_of, week_of


def why(unit, rows=(), chances=None, **more):
    return explain(view_of(rows, chances, **more), unit, "brief-visual")


def test_the_levels_add_up_to_the_chance():
    told = why("101", chances={"101": 0.4})
    assert tuple(told.levels) == LEVEL_NAMES
    assert sum(told.levels.values()) == pytest.approx(1.0)
    assert told.chance == pytest.approx(0.4)
    assert told.levels["clear"] == pytest.approx(0.6)
    assert told.sure == "unsure"
    assert told.status == "look"


def test_the_history_is_newest_first_and_ends_on_the_day():
    rows = [find("101", 20), clear("101", -3), treatment("101", 10), clear("102", 5)]
    told = why("101", rows)
    assert [(r.kind, r.when) for r in told.history] == [
        ("treatment", ON - dt.timedelta(days=10)),
        ("inspection", ON - dt.timedelta(days=20)),
    ]


def test_the_trail_has_a_monday_for_every_week_of_the_window():
    trail = why("101", chances={"101": 0.4}).trail
    assert len(trail) == 26
    assert trail[-1] == (monday_of(week_of(ON)).isoformat(), pytest.approx(0.4))
    days = [dt.date.fromisoformat(day) for day, _ in trail]
    assert {d.weekday() for d in days} == {0}
    assert {(b - a).days for a, b in pairwise(days)} == {7}


def test_shares_are_the_hazards_over_their_sum():
    view = view_of(chances={"103": 0.9}, otherwise=0.0)
    shares = sources_of(view, "101", most=99)
    assert sum(s.share for s in shares) == pytest.approx(1.0)
    assert [s.share for s in shares] == sorted((s.share for s in shares), reverse=True)
    # By hand from the definition (model.md 2): c_r e_r(i,j) kappa(x_j) over the whole pressure, for
    # the wall alone; only 103 sheds, at "low" with chance 0.9.
    dynamics, graph = view.dynamics, view.graph
    shed = 0.9 * dynamics.shedding[2]
    routes = ("wall", "floor", "riser", "hallway", "link")
    edges = graph.get_edge_data("101", "103")
    hazards = {r: dynamics.rates[routes.index(r)] * e["exposure"] * shed for r, e in edges.items()}
    total = sum(hazards.values()) + dynamics.mixing * shed / 12 + dynamics.brought_in
    for route, hazard in hazards.items():
        share = next(s for s in shares if (s.unit, s.route) == ("103", route))
        assert share.share == pytest.approx(hazard / total)
    brought = next(s for s in shares if s.route == "brought in")
    assert brought.share == pytest.approx(dynamics.brought_in / total)


def test_a_recent_move_in_adds_to_what_is_brought_in():
    def brought(*rows):
        return next(s.share for s in sources_of(view_of(rows), "101", most=99) if s.route == "brought in")

    assert brought(row("101", 30, "turnover", "moved-in")) > brought()
    assert brought(row("101", 300, "turnover", "moved-in")) == brought()


def test_sources_say_how_the_contact_lies_to_the_unit():
    graph = maple_contacts((Link("101", "206", "shares a laundry day with", 1.0),))

    def words(unit, contact):
        view = view_of(graph=graph, chances={contact: 0.9})
        return {s.route: s.words for s in sources_of(view, unit, most=99) if s.unit == contact}

    assert words("101", "103") == {
        "wall": "103: through 7.5 m of shared wall",
        "riser": "103: on the same riser as 101",
        "hallway": "103: next door along the hallway from 101",
    }
    assert words("103", "203") == {
        "floor": "203: through the ceiling",
        "riser": "203: on the same riser, 1 floor up from 103",
        "hallway": "203: 1 floor up and 26 m by the stairs from 103",
    }
    assert words("203", "103")["floor"] == "103: through the floor"
    assert words("104", "103")["hallway"] == "103: across the hallway from 104"
    assert words("101", "206")["link"] == "206: shares a laundry day with 101"


def test_a_unit_to_treat_is_to_be_treated():
    assert why("101", [find("101", 3)]).next_step.startswith("Plan a treatment")


@pytest.mark.parametrize(
    ("rows", "expected"),
    [
        ([find("101", 9), treatment("101", 5)],
         "Visit again about Fri 24 May 2024; it still needs two clear looks, a fortnight apart."),
        ([find("101", 40), treatment("101", 38), clear("101", 10)],
         "Visit again about Sun 19 May 2024; "
         "it still needs one more clear look, a fortnight after the first."),
        ([find("101", 40), treatment("101", 38)],
         "Visit again now; it still needs two clear looks, a fortnight apart."),
    ],
)  # fmt: skip
def test_a_treated_unit_is_visited_14_days_after_the_last_visit(rows, expected):
    # By hand: 10 May + 14 days = 24 May; 5 May + 14 days = 19 May 2024 (a calendar).
    assert why("101", rows).next_step == expected


def test_an_alert_asks_for_confirmation_before_anything_is_treated():
    alert = row("101", 3, method="dog", found="yes", evidence="alert")
    assert why("101", [alert]).next_step.startswith("Confirm by eye or with interceptors before anything")
    assert not why("101", [alert, clear("101", 1)]).next_step.startswith("Confirm")


def test_the_ring_rule_is_named_and_otherwise_the_turn_comes():
    told = why("101", [find("103", 4)])
    assert told.rule == "beside 103"
    assert told.next_step == "Look at it: the ring rule asks for it (beside 103)."
    assert why("206", [report("206", 3)]).next_step == "Brief look when its turn comes."


def test_a_unit_without_contacts_has_only_outside_sources():
    graph = nx.MultiGraph()
    graph.add_node("gatehouse", index=0, levels=(0,), floors=("1",), area=40.0, stack="")
    told = why("gatehouse", graph=graph)
    assert {s.route for s in told.sources} == {"brought in", "building-wide"}
    assert told.sources[0].words == "brought in from outside"
    assert told.sources[0].share == pytest.approx(1.0)

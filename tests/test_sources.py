"""Who most likely infested whom: shares that add up, words that say by which way, and dates."""

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest
from buildings import ON, clear, find, maple_contacts, row, view_of

from spread.contacts.links import Link
from spread.decisions.doors.sources import MEANINGFUL, bears_on, came_from
from spread.decisions.span import span_of
from spread.posterior.dynamics import central_dynamics, network_of
from spread.posterior.fit import FitSettings, fit
from spread.posterior.rates import new_blame
from spread.posterior.room import Shared
from spread.trade.routes import ROUTES
from spread.weeks import monday_of, week_of
from spread.words import ENGLISH, say

WEEKS = 26


def blamed(unit="101", chance=0.5, **counts):
    """A view whose unit was infested in half of the sweeps, with counts given as shares of all sweeps.

    ``contacts`` is {(contact, route): share}, ``others`` five shares, ``began`` {week: share}.
    """
    view = view_of(chances={unit: chance})
    network = view.network
    i = network.index[unit]
    blame = new_blame(len(network.indices), len(ROUTES), network.size, WEEKS)
    for (contact, route), share in counts.get("contacts", {}).items():
        row_ = network.indptr[i] + list(network.indices[network.indptr[i] : network.indptr[i + 1]]).index(
            network.index[contact]
        )
        blame.contact[row_, ROUTES.index(route)] = share
    others = counts.get("others", ())
    blame.other[i, : len(others)] = others
    for week, share in counts.get("began", {10: 0.5}).items():
        blame.began[i, week] = share
    posterior = replace(view.posterior, blame=blame, **counts.get("more", {}))
    return replace(view, posterior=posterior)


def test_shares_are_of_the_sweeps_that_have_the_unit_infested():
    view = blamed(
        contacts={("103", "wall"): 0.25, ("103", "hallway"): 0.05, ("201", "floor"): 0.1},
        others=(0.06, 0.0, 0.03, 0.01),
    )
    origin = came_from(view, "101")
    # By hand: every count over the 0.5 of the sweeps in which 101 is infested.
    assert [(s.unit, s.route, round(s.share, 6)) for s in origin.sources] == [
        ("103", "wall", 0.6),
        ("201", "floor", 0.2),
        ("", "brought in", 0.12),
        ("", "building-wide", 0.06),
        ("", "before", 0.02),
    ]
    assert origin.sources[0].by_route == pytest.approx({"wall": 0.5, "hallway": 0.1})
    assert say(origin.sources[0], ENGLISH) == "103: through 7.5 m of shared wall"
    assert not origin.as_of_fit


@pytest.mark.parametrize("told", [True, False])
def test_a_shared_room_is_a_source_of_its_own_only_where_the_log_tells_of_one(told):
    view = blamed(contacts={("103", "wall"): 0.2}, others=(0.0, 0.0, 0.05, 0.0, 0.25))
    n = view.network.size
    draws = np.tile([float(told), 0.05, 0.5], (len(view.posterior.draws), 1))
    pairs = np.full((n, n), 0.01)
    posterior = replace(view.posterior, shared=Shared(draws, np.full(n, 0.5), pairs))
    view = replace(view, posterior=posterior)
    shares = {s.route: round(s.share, 6) for s in came_from(view, "101").sources}
    bearing = bears_on(view, "101", most=99)
    bears = {s.route: s.share for s in bearing if not s.unit}
    if told:
        assert shares == {"shared room": 0.5, "wall": 0.4, "building-wide": 0.1}
        assert say(came_from(view, "101").sources[0], ENGLISH) == (
            "through a room or a helper shared by units, that no plan shows"
        )
        assert bears["shared room"] > 0
    else:
        assert shares == {"building-wide": 0.6, "wall": 0.4}
        assert "shared room" not in bears
    assert sum(s.share for s in bearing) == pytest.approx(1.0)


def test_a_second_way_is_named_when_it_carries_a_quarter():
    view = blamed(contacts={("103", "wall"): 0.3, ("103", "hallway"): 0.2})
    assert say(came_from(view, "101").sources[0], ENGLISH) == (
        "103: through 7.5 m of shared wall, or next door along the hallway from 101"
    )


def test_below_two_in_a_hundred_no_source_is_named():
    few = {10: MEANINGFUL - 1e-6}
    assert came_from(blamed(chance=0.9, began=few, others=(few[10], 0, 0, 0)), "101") is None
    assert came_from(blamed(chance=MEANINGFUL - 1e-6), "101") is None
    assert came_from(view_of(chances={"101": 0.9}), "101") is None
    assert came_from(blamed(chance=MEANINGFUL, others=(0.5, 0, 0, 0)), "101") is not None


def test_after_answers_or_new_weeks_the_sources_are_said_to_be_of_the_last_fit():
    def old(**more):
        return came_from(blamed(others=(0.5, 0, 0, 0), more=more), "101").as_of_fit

    assert not old()
    assert old(log_weights=np.array([0.0, -1.0] * 5))
    assert old(late=True)
    assert old(weekly=np.zeros((12, WEEKS + 1)))


def test_the_beginning_has_a_median_and_an_interval_of_mondays():
    first = week_of(ON) - WEEKS + 1
    chances = np.zeros(WEEKS)
    chances[[5, 10, 20]] = 0.04, 0.9, 0.06
    span = span_of(chances * 0.3, first)
    # By hand: cumulated 0.04, 0.94, 1.00, so the 5 % and 50 % points are week 10 and the 95 % point week 20.
    days = [monday_of(first + week).isoformat() for week in (10, 10, 20)]
    assert [span.low.isoformat(), span.median.isoformat(), span.high.isoformat()] == days
    assert {dt.date.fromisoformat(day).weekday() for day in days} == {0}
    assert (
        say(span, ENGLISH) == "about Mon 29 Jan 2024 (90% sure: between Mon 29 Jan 2024 and Mon 8 Apr 2024)"
    )


def test_what_the_window_cuts_is_said_to_lie_before_it():
    first = week_of(ON) - WEEKS + 1
    chances = np.zeros(WEEKS)
    chances[[0, 12]] = 0.97, 0.03
    assert say(span_of(chances, first), ENGLISH) == "before Mon 20 Nov 2023, when the window begins"
    assert span_of(chances, first).high is None
    chances[[0, 12]] = 0.6, 0.4
    assert say(span_of(chances, first), ENGLISH) == (
        "before Mon 20 Nov 2023 (90% sure: from before then to Mon 12 Feb 2024)"
    )
    chances[[0, 12]] = 0.2, 0.8
    assert say(span_of(chances, first), ENGLISH) == (
        "about Mon 12 Feb 2024 (90% sure: from before Mon 20 Nov 2023, when the window begins, to "
        "Mon 12 Feb 2024)"
    )


def test_a_fit_blames_the_heavy_neighbour_for_a_find_beside_it():
    """101 was clear for a year beside a heavy 103 and nothing else was ever found (direction only)."""
    records = [find("103", ago, "heavy", evidence="live") for ago in (300, 200, 100)]
    records += [clear("101", ago, "thorough-visual") for ago in (330, 320, 310)]
    records += [
        clear(unit, ago, "thorough-visual")
        for unit in ("105", "102", "104", "201", "203")
        for ago in (60, 30)
    ]
    records += [find("101", 5, "low", evidence="live")]
    graph = maple_contacts()
    network, dynamics = network_of(graph), central_dynamics()
    settings = FitSettings(weeks=60, chains=2, sweeps=400, most_sweeps=400)
    posterior = fit(network, records, dynamics, on=ON, settings=settings)
    view = replace(view_of(records), posterior=posterior)
    origin = came_from(view, "101")
    assert origin.sources[0].unit == "103"
    assert origin.sources[0].share > 0.3
    assert sum(s.share for s in came_from(view, "101", most=99).sources) == pytest.approx(1.0)
    assert monday_of(week_of(ON) - 48) < origin.began.median < ON


def test_shares_are_the_hazards_over_their_sum():
    view = view_of(chances={"103": 0.9}, otherwise=0.0)
    shares = bears_on(view, "101", most=99)
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
        share = next(s for s in shares if s.unit == "103")
        assert share.by_route[route] == pytest.approx(hazard / total)
        assert share.share == pytest.approx(sum(share.by_route.values()))
    brought = next(s for s in shares if s.route == "brought in")
    assert brought.share == pytest.approx(dynamics.brought_in / total)


def test_a_recent_move_in_adds_to_what_is_brought_in():
    def brought(*rows):
        return next(s.share for s in bears_on(view_of(rows), "101", most=99) if s.route == "brought in")

    assert brought(row("101", 30, "turnover", "moved-in")) > brought()
    assert brought(row("101", 300, "turnover", "moved-in")) == brought()


def test_sources_say_how_the_contact_lies_to_the_unit():
    graph = maple_contacts((Link("101", "206", "shares a laundry day with", 1.0),))

    def words(unit, contact):
        view = view_of(graph=graph, chances={contact: 0.9})
        return next(say(s, ENGLISH) for s in bears_on(view, unit, most=99) if s.unit == contact)

    assert words("101", "103") == (
        "103: through 7.5 m of shared wall, and next door along the hallway from 101"
    )
    assert words("103", "203") == "203: through the ceiling"
    assert words("203", "103") == "103: through the floor"
    assert words("104", "103") == "103: across the hallway from 104"
    assert words("101", "206") == "206: shares a laundry day with 101"

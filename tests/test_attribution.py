"""A reason comes from the attribution that ``why`` shows, on every demo and on simulated buildings."""

import datetime as dt
from pathlib import Path

import numpy as np
import pytest
from buildings import clear, find, maple_contacts, treatment, view_of

from spread.decisions.doors.reasons import A_FIFTH, reasons_for
from spread.decisions.doors.told import Elsewhere, FromContact, ManySides
from spread.decisions.doors.why import explain
from spread.decisions.view import View
from spread.posterior.dynamics import central_dynamics, network_of
from spread.posterior.fit import FitSettings, fit
from spread.records.log import Log
from spread.session import Session
from spread.words import ENGLISH
from spread.words.doors import reason_text
from spread.worlds.practice import PracticeSettings, usual_practice

DEMOS = sorted(path.parent for path in Path(__file__).parent.parent.glob("demo_buildings/*/building.toml"))
SHORT = FitSettings(chains=2, warmup=20, sweeps=40, most_sweeps=40)
SEEDS = (3, 4, 5)


def demo(folder):
    return Session.open(folder, on=dt.date(2026, 11, 20), settings=SHORT).view


def simulated(seed):
    """Maple Row as usual practice would have left it, with many infested units at the beginning."""
    graph, dynamics = maple_contacts(), central_dynamics(prevalence=0.3)
    network = network_of(graph)
    records, _ = usual_practice(
        network,
        graph,
        dynamics,
        weeks=60,
        rng=np.random.default_rng(seed),
        start_date=dt.date(2025, 6, 4),
        settings=PracticeSettings(stay_weeks=60),
    )
    on = max(record.when for record in records)
    posterior = fit(network, records, dynamics, on=on, settings=SHORT)
    return View(graph, network, posterior.dynamics or dynamics, Log(tuple(records)), posterior)


@pytest.fixture(scope="module", params=[*DEMOS, *SEEDS], ids=lambda p: getattr(p, "name", f"world {p}"))
def view(request):
    return demo(request.param) if isinstance(request.param, Path) else simulated(request.param)


def test_every_reason_about_a_source_has_the_share_that_why_shows(view):
    seen = 0
    for unit in view.network.units:
        told = explain(view, unit, "brief-visual")
        shares = {(share.unit, share.of): share.share for share in told.sources if share.unit}
        elsewhere = {(share.route, share.of): share.share for share in told.sources if not share.unit}
        for reason in told.reasons:
            if isinstance(reason, FromContact):
                assert shares[reason.unit, reason.of] == reason.share
                seen += 1
            if isinstance(reason, Elsewhere):
                assert elsewhere[reason.route, reason.of] == reason.share == told.sources[0].share
    assert seen


def test_the_contact_with_the_largest_share_is_named_where_it_has_a_fifth(view):
    named = 0
    for unit in view.network.units:
        told = explain(view, unit, "brief-visual")
        contacts = [share for share in told.sources if share.unit]
        if contacts and contacts[0].share >= A_FIFTH:
            assert contacts[0].unit in [r.unit for r in told.reasons if isinstance(r, FromContact)], unit
            named += 1
    assert named


def test_many_sides_are_said_only_where_no_contact_has_a_fifth(view):
    for unit in view.network.units:
        told = explain(view, unit, "brief-visual")
        many = [reason for reason in told.reasons if isinstance(reason, ManySides)]
        largest = max((share.share for share in told.sources if share.unit), default=0.0)
        assert not many or largest < A_FIFTH
        assert all(reason.largest == told.sources[0].share for reason in many)
        assert ("No contact alone" in reason_text(told.reasons, ENGLISH)) == bool(many)
        contacts = [share for share in told.sources if share.unit]
        for reason in many:
            assert reason.together == pytest.approx(sum(share.share for share in contacts))
            assert reason.units[0] == contacts[0].unit
            assert all(unit in reason_text(told.reasons, ENGLISH) for unit in reason.units)


def test_what_weighs_most_is_named_where_it_is_no_contact(view):
    for unit in view.network.units:
        told = explain(view, unit, "brief-visual")
        if told.status == "look" and not told.sources[0].unit:
            routes = [reason.route for reason in told.reasons if isinstance(reason, Elsewhere)]
            assert routes == [told.sources[0].route], unit


def test_a_contact_that_is_clear_now_is_named_with_its_story():
    """By hand: heavy 150 days ago, low 100 days ago, treated after each and once more, two clear looks."""
    rows = [
        find("103", 150, "heavy"),
        treatment("103", 149, "spray"),
        find("103", 100, "low"),
        treatment("103", 100, "spray"),
        treatment("103", 80, "whole-room-heat"),
        clear("103", 60),
        clear("103", 40),
    ]
    view = view_of(rows, {"103": 0.05}, otherwise=0.001)
    view.posterior.shedding[view.network.index["103"], -26:-10] = view.dynamics.shedding[4]
    (beside,) = [r for r in reasons_for(view, "101") if isinstance(r, FromContact)]
    assert beside.unit == "103"
    assert (beside.story.days, beside.story.level, beside.story.again_days) == (150, "heavy", 100)
    assert (beside.story.treatments, beside.story.treated_days, beside.story.clear_looks) == (3, 80, 2)
    assert reason_text([beside], ENGLISH) == (
        "Shares 7.5 m of wall with 103, where a heavy infestation was found 5 months ago and again 3 months "
        "ago, and treated three times, last 3 months ago; two clear looks since (chance now 5%)."
    )


def test_an_infestation_found_anew_after_two_clear_looks_is_told_without_the_one_before_it():
    rows = [
        find("103", 300, "heavy"),
        treatment("103", 299),
        clear("103", 280),
        clear("103", 260),
        find("103", 30, "low"),
        treatment("103", 29),
    ]
    (beside,) = [r for r in reasons_for(view_of(rows, {"103": 0.6}), "101") if isinstance(r, FromContact)]
    assert (beside.story.days, beside.story.level, beside.story.again_days) == (30, "low", None)
    assert beside.story.treatments == 1


def test_a_contact_not_treated_since_its_last_find_is_said_to_be_so_whatever_came_before():
    """A safety device: an old heavy find and its treatments must not make a new find look treated."""
    rows = [find("103", 60, "heavy"), treatment("103", 59), find("103", 5, "low")]
    (beside,) = [r for r in reasons_for(view_of(rows, {"103": 0.9}), "101") if isinstance(r, FromContact)]
    assert reason_text([beside], ENGLISH).endswith(
        "where a low infestation was found 5 days ago and not treated since."
    )

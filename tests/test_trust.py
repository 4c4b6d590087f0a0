"""Where a log contradicts the model: learned, warned of, and said; and silence about a log that does not."""

from __future__ import annotations

import functools
from dataclasses import replace
from itertools import pairwise

import networkx as nx
import numpy as np
import pytest
from posterior_buildings import ON, row

from spread.decisions.doors.contradictions import doubts_in
from spread.decisions.shared_room import SharedRoom, shared_room_of
from spread.decisions.trust import (
    FalseAlerts,
    LittleReported,
    Unexpected,
    traits_of,
    warnings_of,
)
from spread.posterior.checks import Check
from spread.posterior.dynamics import central_dynamics, network_of
from spread.posterior.fit import FitSettings, fit
from spread.words import ENGLISH, say
from spread.words.trust import warning_words, warnings_data

SHORT = FitSettings(weeks=60, chains=2, warmup=100, sweeps=400, most_sweeps=400, seed=4)
UNITS = [f"{n}" for n in range(1, 25)]


def network():
    graph = nx.MultiGraph()
    graph.add_nodes_from(UNITS)
    for a, b in pairwise(UNITS):
        graph.add_edge(a, b, key="wall", route="wall", exposure=1.0)
    return network_of(graph)


@functools.cache
def fitted(name):
    return fit(network(), LOGS[name](), central_dynamics(), on=ON, settings=SHORT)


def silent():
    """Found heavy in two surveys 40 weeks apart, treated by nobody, reported by nobody."""
    for weeks, unit in ((w, u) for w in (45, 5) for u in UNITS[:14]):
        yield row(
            weeks, unit, "inspection", "thorough-visual", "yes", level="heavy", evidence="live", by="T1"
        )


def alerts():
    """A dog alerts in every unit on two days; a thorough look the day after finds nothing anywhere."""
    for weeks, unit in ((w, u) for w in (20, 8) for u in UNITS):
        yield row(weeks, unit, "inspection", "dog", "yes", evidence="alert", by="K9")
        yield row(weeks, unit, "inspection", "thorough-visual", "no", by="T1", day=-1)
        yield row(weeks, unit, "monitor", "interceptors", "no", days=14, by="T2", day=-16)


def usual():
    """A complaint that was confirmed and treated, and looks that found nothing."""
    yield row(50, "3", "report")
    yield row(49, "3", "inspection", "brief-visual", "yes", level="low", evidence="live", by="T1")
    for weeks in (48, 46, 44):
        yield row(weeks, "3", "treatment", "steam-dust-encase", by="T1")
    for k, unit in enumerate(UNITS):
        yield row(40 - k, unit, "inspection", "brief-visual", "no", by="T1" if k % 2 else "T2")


LOGS = {name: functools.partial(lambda make: tuple(make()), make) for name, make in
        {"silent": silent, "alerts": alerts, "usual": usual}.items()}  # fmt: skip


def test_a_log_in_which_residents_stay_silent_is_said_to_be_one():
    posterior = fitted("silent")
    told = [one for one in warnings_of(posterior) if isinstance(one, LittleReported) and not one.light]
    assert len(told) == 1
    assert told[0].factor < 0.5
    assert "silence clears nobody" in say(told[0], ENGLISH)
    heavy = next(one for one in traits_of(posterior) if one.kind == "reports-heavy")
    assert heavy.learned
    assert heavy.posterior.median < 0.5 * heavy.prior.median


def test_alerts_everywhere_that_nothing_confirms_are_doubted_and_not_believed():
    posterior = fitted("alerts")
    told = [one for one in warnings_of(posterior) if isinstance(one, FalseAlerts)]
    assert [one.team for one in told] == ["K9"]
    assert told[0].chance > 0.3
    assert posterior.chance.sum() < 3
    evidence_blind = fit(
        network(), LOGS["alerts"](), central_dynamics(), on=ON, settings=replace(SHORT, learn=False)
    )
    assert posterior.chance.sum() < evidence_blind.chance.sum()


def test_a_usual_log_is_not_warned_of():
    posterior = fitted("usual")
    assert warnings_of(posterior) == ()
    assert warnings_data(warnings_of(posterior)) == []


def test_what_a_log_cannot_tell_keeps_its_prior():
    """Nobody alerted and few looks: whole lines of the table stay as they were, and are marked."""
    traits = {(one.kind, one.whose): one for one in traits_of(fitted("usual"))}
    for key in [("person", "T1"), ("person", "T2"), ("resist", "")]:
        assert not traits[key].learned
        assert traits[key].posterior.median == pytest.approx(traits[key].prior.median, rel=0.5)
    kinds = "reports-light reports-heavy reports-nothing never-report resist began people method person"
    assert {kind for kind, _ in traits} == set(kinds.split())


def test_a_shared_room_is_warned_of_from_a_half_and_its_units_are_named():
    posterior = fitted("usual")
    assert not shared_room_of(posterior).learned
    assert "does not rule one out" in say(shared_room_of(posterior), ENGLISH)
    assert not [one for one in warnings_of(posterior) if isinstance(one, SharedRoom)]
    members = np.linspace(0.0, 0.75, len(UNITS))
    for on, told in ((0.45, 0), (0.75, 1)):
        draws = np.zeros((len(posterior.draws), 3))
        draws[: round(on * len(draws))] = 1.0, 0.05, 0.3
        shared = posterior.shared._replace(draws=draws, members=members)
        warned = [
            one for one in warnings_of(replace(posterior, shared=shared)) if isinstance(one, SharedRoom)
        ]
        assert len(warned) == told
    assert warned[0].chance == pytest.approx(0.75, abs=0.01)
    # Half of the 24 are members in more than half of the draws that have a room.
    assert warned[0].units == tuple(reversed(UNITS[12:]))
    words = warning_words(warned, ENGLISH)[0]
    assert "is there a laundry, a shared room, a helper who goes from door to door?" in words
    assert "24, 23" in words
    assert warnings_data(warned)[0]["units"] == list(warned[0].units)


def test_checks_count_what_stands_in_the_log():
    checks = {(one.kind, one.whose): one for one in fitted("usual").checks}
    assert checks["method", "brief-visual"].seen == 1
    assert checks["method", "brief-visual"].trials == len(UNITS) + 1
    assert checks["after-complaint", ""].seen == checks["after-complaint", ""].trials == 1
    assert sum(one.seen for (kind, _), one in checks.items() if kind == "complaints") == 1
    assert checks["grade", ""].seen == 0
    assert checks["grade", ""].trials == 1
    assert ("after-alert", "") not in checks


def test_a_count_far_from_what_was_expected_is_called_out_and_said():
    posterior = replace(
        fitted("usual"),
        checks=(
            Check("beside-find", "", 20.0, 6.0, 2.0, 40),
            Check("person", "T1", 7.0, 6.0, 2.0, 40),
            Check("complaints", "26", 14.0, 2.0, 1.5, 300),
            Check("grade", "", 14.0, 2.0, 1.5, 30),
        ),
    )
    told = [one for one in warnings_of(posterior) if isinstance(one, Unexpected)]
    assert [one.kind for one in told] == ["beside-find", "complaints", "grade"]
    words = warning_words(told, ENGLISH)
    assert words[0].startswith("20 of 40 looks beside a find found something where the model expects 6.0")
    assert all(data["words"] in words for data in warnings_data(told))


def test_a_count_of_chance_alone_is_no_surprise():
    """One complaint where hardly one was expected is none, nor are three of them: P(3 or more) = 0.008."""
    assert abs(Check("complaints", "13", 1.0, 0.1, 0.316, 300).surprise) < 2
    assert abs(Check("complaints", "13", 3.0, 0.4, 0.632, 300).surprise) < 3
    assert Check("complaints", "13", 6.0, 0.4, 0.632, 300).surprise > 3
    assert abs(Check("method", "dog", 16.0, 12.0, np.sqrt(12.0), 300).surprise) < 1.5
    assert np.sign(Check("method", "dog", 0.0, 6.0, 1.5, 30).surprise) == -1


def test_rows_that_repeat_are_named_and_nothing_else_is_made_of_them():
    first = row(3, "1", "inspection", "brief-visual", "no", by="T1")
    copy = replace(first, id="copy", note="again")
    (doubt,) = doubts_in([first, copy])
    assert doubt.kind == "repeated"
    assert set(doubt.rows) == {first.id, "copy"}
    assert "they count once" in say(doubt, ENGLISH)
    assert doubts_in([first, replace(copy, by="T2")]) == ()

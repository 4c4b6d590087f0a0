"""Whether bugs outlived the treatments or came in since: shares of the draws, and words that keep to them."""

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest
from buildings import ON, day, find, treatment
from hypothesis import given, settings
from hypothesis import strategies as st
from small import small_session

from spread.decisions.case.failing import failing_of
from spread.decisions.case.survival import Survival, survival_of
from spread.weeks import week_of
from spread.words import ENGLISH, say


@pytest.fixture(scope="module")
def session(tmp_path_factory):
    return small_session(tmp_path_factory.mktemp("survival"))


def failing_since(ago):
    rows = [find("101", ago + 1, "heavy", count=60), treatment("101", ago), treatment("101", ago - 30)]
    rows += [find("101", 5, "heavy", count=90)]
    told = failing_of(rows, ON)
    assert told is not None
    return told


def posterior_with(session, began, first):
    """A posterior whose first unit is infested for sure, since the weeks that are given, from a week on."""
    posterior = session.view.posterior
    counts = np.zeros_like(posterior.blame.began)
    counts[0, : len(began)] = began
    levels = posterior.levels.copy()
    levels[0] = [0.1, *[0.9 / (levels.shape[1] - 1)] * (levels.shape[1] - 1)]
    return replace(
        posterior, blame=posterior.blame._replace(began=counts), levels=levels, first_week=week_of(first)
    )


def test_what_began_before_the_course_outlived_it(session):
    unit = session.view.posterior.units[0]
    began = [5.0, 0.0, 2.0, 3.0]  # the first treatment is in the third week
    told = survival_of(posterior_with(session, began, day(80 + 14)), unit, failing_since(80))
    assert told.since == day(80)
    assert told.survived == pytest.approx(0.7)
    assert told.arrived == pytest.approx(0.3)
    before = posterior_with(session, began, day(10))  # a window that begins after the course says nothing
    assert survival_of(before, unit, failing_since(80)) is None


def test_nothing_is_said_where_nothing_fails_or_hardly_a_chance_is_left(session):
    posterior = session.view.posterior
    unit = posterior.units[0]
    assert survival_of(posterior, unit, None) is None
    levels = posterior.levels.copy()
    levels[0] = [1.0, *[0.0] * (levels.shape[1] - 1)]
    assert survival_of(replace(posterior, levels=levels), unit, failing_since(80)) is None


@settings(deadline=None)
@given(st.floats(0, 1), st.one_of(st.none(), st.floats(0, 1)))
def test_neither_is_called_likely_without_ground_and_nothing_calms(survived, resists):
    told = say(Survival(dt.date(2026, 5, 3), survived, 1 - survived, resists), ENGLISH)
    assert ("came through the treatments since" in told and "were not brought in" in told) == (
        survived >= 0.8
    )
    assert ("came in after the treatment" in told) == (survived < 0.8 and 1 - survived >= 0.8)
    assert not any(word in told for word in ("clear", "worked", "safe", "no bugs"))

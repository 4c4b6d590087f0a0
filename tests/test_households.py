"""Households of runs ahead as settings, and treatments as part of a search."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from spread.errors import SettingsError
from spread.programmes import columns as c
from spread.programmes.begin import begin_of
from spread.programmes.futures import tables_of_runs, unprepared
from spread.programmes.optimise import TREATED, Goal, candidates, search, treatments
from spread.programmes.reading import preset
from spread.programmes.run import RunSettings, simulate
from spread.programmes.tables import tables_of
from spread.settings import parse_settings
from spread.trade.pace import Households, Pace
from spread.words import ENGLISH
from spread.words.programmes import programme_name
from tests.test_programmes_results import seeded_view

GOOD = {"name": "Elm Court", "floors": ["1", "2"]}


def test_households_are_read_and_go_into_every_start():
    own = {"stay_weeks": 52, "empty_weeks": 4, "refuses": 0.1, "not_prepared": 0.25}
    pace = parse_settings(GOOD | {"households": own}).pace
    assert pace.households == Households(52.0, 4.0, 0.1, 0.25)
    begin = begin_of(seeded_view(), runs=3, seed=1, pace=pace)
    assert (begin.leave, begin.relet, begin.refuses, begin.unprepared) == (1 / 52, 1 / 4, 0.1, 0.25)
    usual = begin_of(seeded_view(), runs=3, seed=1)
    assert (usual.leave, usual.relet, usual.unprepared) == (1 / 104, 7 / 60, 0.0)
    for wrong in ({"refuses": 1.5}, {"stay_weeks": 0}, {"odd": 1}):
        with pytest.raises(SettingsError, match="households"):
            parse_settings(GOOD | {"households": wrong})


def test_a_visit_to_a_unit_that_was_not_prepared_does_nothing():
    view = seeded_view()
    begin = begin_of(view, runs=2, seed=1)
    plain = tables_of_runs(tables_of(view.dynamics), begin, 1)[0]
    mixed = tables_of_runs(tables_of(view.dynamics), begin._replace(unprepared=0.4), 1)[0]
    effect = np.diff(plain.act, axis=2, prepend=0.0)
    assert np.allclose(np.diff(mixed.act, axis=2, prepend=0.0), 0.6 * effect + 0.4 * np.eye(effect.shape[1]))
    assert (mixed.effect == plain.effect).all(), "the firm does not know"
    assert np.allclose(unprepared(mixed, 0.0, 0.4).act, plain.act)
    assert unprepared(plain, 0.0) is plain


def test_units_that_are_not_prepared_and_people_who_refuse_leave_more_bugs():
    view = seeded_view()
    settings = RunSettings(52, 60)
    bugs = []
    for households in (Households(), Households(not_prepared=0.8), Households(refuses=0.8)):
        done = simulate(view, [preset("survey-brief")], settings, pace=replace(Pace(), households=households))
        bugs.append(done.runs[0].counts[:, c.BUG_WEEKS].mean())
    assert bugs[0] < bugs[1]
    assert bugs[0] < bugs[2]


def test_treatments_and_their_intervals_are_tried_on_the_best():
    base = preset("complaint")
    others = treatments(base)
    assert len(others) == len(c.TREATMENTS) * len(TREATED) - 1
    assert len({other.key for other in others}) == len(others)
    assert base.treatment not in [other.treatment for other in others]
    first = candidates(base)[0]
    named = treatments(first)[0]
    assert programme_name(named, ENGLISH).startswith("Complaints, treated every ")
    found = search(seeded_view(), [first], Goal(0.0, 26), RunSettings(26, 40), pace=Pace(), vary=treatments)
    tried = {(p.programme.treatment.method, p.programme.treatment.every_weeks) for p in found.points}
    assert tried == {(method, weeks) for method in c.TREATMENTS for weeks in TREATED}
    assert found.best is not None
    again = search(seeded_view(), [first], Goal(0.0, 26), RunSettings(26, 40), pace=Pace(), vary=treatments)
    assert again.best is not None
    assert again.best.programme.key == found.best.programme.key, "the same seed gives the same answer"

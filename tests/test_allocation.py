"""The accounting of hours over buildings, on three tiny ones; all of it: ``python -m proofs.allocation``."""

from __future__ import annotations

import argparse

import numpy as np
import pytest
from small import QUICKER

from benchmarks.worlds_of import MORNING
from proofs import allocation
from proofs.allocation_rules import RULES, TRAVEL, by_product, by_turn, seen_of
from spread.firm.fitting import Asked, fit_one, program_mark
from spread.firm.places import places_at

TINY = ((2, 3), (3, 5), (16, 20))


@pytest.fixture(scope="module")
def firm(tmp_path_factory):
    folder = tmp_path_factory.mktemp("firm")
    houses = {allocation.key_of(k): allocation.house_of(4, k, 1.0, 6, TINY) for k in range(3)}
    asked = Asked(MORNING, program_mark(), QUICKER)
    for key, house in houses.items():
        allocation.lay_out(folder / key, house)
        assert fit_one(str(folder), key, asked).state == "fitted"
    places = places_at(str(folder))
    return houses, places, asked, [seen_of(places, key, asked) for key in houses]


@pytest.mark.parametrize("hours", [0.0, 0.75, 2.5, 6.0, 40.0])
def test_no_rule_spends_more_than_its_hours_and_all_pay_the_same(firm, hours):
    _, places, asked, seen = firm
    minutes = {one.key: one.minutes for one in seen}
    for spent in (
        by_product(places, asked, hours),
        *(r(seen, hours, np.random.default_rng(1)) for r in RULES),
    ):
        assert spent.hours <= hours + 1e-9, spent.rule
        for key, doors in spent.doors.items():
            way = 0.0 if "for nothing" in spent.rule else TRAVEL
            assert len(set(doors)) == len(doors)
            assert spent.minutes[key] == pytest.approx(way + sum(minutes[key][unit] for unit in doors))
        if hours == 40.0 and spent.share == 1.0 and "complaints" not in spent.rule.split()[-1]:
            assert {key: set(doors) for key, doors in spent.doors.items()} == {
                k: set(m) for k, m in minutes.items()
            }


def test_the_same_look_gives_the_same_answer_whoever_asks_for_it(firm):
    houses, _, _, seen = firm
    answers = set()
    for house, one in zip(houses.values(), seen, strict=True):
        a, b, c = tuple(one.minutes)[:3]
        for future in range(6):
            told = [
                next(row for row in allocation.begun(house, doors, future)[1] if row.unit == b)
                for doors in ((b,), (a, b), (c, a, b))
            ]
            assert len({(row.kind, row.method, row.found, row.level) for row in told}) == 1
            answers.add((b, told[0].kind, told[0].found))
    assert len(answers) > 3  # and futures differ


def test_a_rule_that_looks_nowhere_averts_nothing_and_one_that_finds_averts(firm, tmp_path):
    houses, _, _, seen = firm
    kept = allocation.Kept(tmp_path / "lived.jsonl", 3)
    nothing = by_turn(seen, 0.0, np.random.default_rng(1))
    assert all((part == 0.0).all() for part in allocation.averted(nothing, houses, kept))
    for key, house in houses.items():
        again, arm = allocation.lived(house, (), 3), kept.lived(key, house, ())
        assert (again.weeks == arm.weeks).all()
        assert arm.finds.sum() == 0
    # Every door of every building: whoever is found is treated, and that can be seen.
    everything = RULES[2](seen, 1000.0, np.random.default_rng(1))
    gains, finds, minutes = allocation.averted(everything, houses, kept)
    hidden = sum(houses[one.key].practice.world.level_of(unit) > 0 for one in seen for unit in one.minutes)
    assert 0 < finds.sum() <= hidden
    assert gains[:, 0].sum() > 0
    assert minutes.sum() < 60_000
    # What was lived is read and not lived again.
    again = allocation.Kept(tmp_path / "lived.jsonl", 3)
    assert len(again._known) == len(kept._known)


def test_a_run_that_was_stopped_goes_on(tmp_path, capsys):
    args = argparse.Namespace(
        home=tmp_path, buildings=2, seed=4, futures=2, sweeps=20, within=6, off=1.0, pool=False, hours=[2.0]
    )
    allocation.run(args, TINY)
    first = capsys.readouterr().out
    lived = next(tmp_path.rglob("lived.jsonl"))
    text = lived.read_text()
    lived.write_text(text[: len(text) // 2])
    allocation.run(args, TINY)
    assert capsys.readouterr().out == first

"""What traps caught, place by place, and when it may be said where most come from."""

import pytest
from buildings import ON, day, row
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import integrate, stats

from spread.decisions.case.catches import TELLS, catches_of, chance_of_most
from spread.records.kinds import Finding
from spread.words import ENGLISH, say


def traps_set(ago, *places):
    items = tuple(Finding("interceptors", place=place) for place in places)
    return row("101", ago, "note", "traps-set", items=items)


def traps_read(ago, days, **held):
    items = tuple(
        Finding("interceptors", frozenset({"live"}), count=count, place=place.replace("_", " "))
        for place, count in held.items()
        if count
    )
    total = sum(held.values())
    found = "yes" if total else "no"
    return row("101", ago, "monitor", "interceptors", found, days=days, count=total, items=items)


LEGS = ("bed 1 leg 1", "bed 1 leg 2", "sofa leg 1", "sofa leg 2")


def test_each_trap_has_its_catches_by_the_day_of_reading():
    rows = [
        traps_set(30, *LEGS),
        traps_read(16, 14, bed_1_leg_1=4),
        traps_read(2, 14, bed_1_leg_1=1, sofa_leg_2=2),
    ]
    told = catches_of(rows, ON)
    assert [one.place for one in told.traps] == list(LEGS)
    assert told.traps[0].caught == ((day(16), 4), (day(2), 1))
    assert {one.place: (one.total, one.days) for one in told.places} == {"bed 1": (5, 56), "sofa": (2, 56)}


def test_a_catch_that_nobody_placed_is_counted_apart():
    rows = [traps_set(30, *LEGS), row("101", 10, "monitor", "interceptors", "yes", days=20, count=7)]
    told = catches_of(rows, ON)
    assert told.unplaced == 7
    assert told.points_to is None


@settings(max_examples=30, deadline=None)
@given(st.lists(st.tuples(st.integers(0, 60), st.integers(1, 200)), min_size=2, max_size=5))
def test_the_chance_of_the_most_is_the_integral_over_gammas_by_scipy(pairs):
    names = [f"p{i}" for i in range(len(pairs))]
    totals = {name: count for name, (count, _) in zip(names, pairs, strict=True)}
    exposure = {name: float(days) for name, (_, days) in zip(names, pairs, strict=True)}
    told = chance_of_most(totals, exposure)
    assert sum(told.values()) == pytest.approx(1.0)
    first, *others = [stats.gamma(totals[n] + 1, scale=1 / exposure[n]) for n in names]
    top = first.ppf(1 - 1e-12)

    def density(x):
        value = first.pdf(x)
        for other in others:
            value *= other.cdf(x)
        return value

    exact, _ = integrate.quad(density, 0, top, limit=400, points=[first.mean()])
    assert told[names[0]] == pytest.approx(exact, abs=2e-3)


def test_many_at_one_place_are_named_with_their_chance_and_few_are_not():
    many = [traps_set(30, *LEGS), traps_read(2, 28, bed_1_leg_1=9, bed_1_leg_2=6, sofa_leg_1=1)]
    few = [traps_set(30, *LEGS), traps_read(2, 28, bed_1_leg_1=2, sofa_leg_1=1)]
    assert catches_of(many, ON).points_to.place == "bed 1"
    assert "at bed 1 (chance >99%)" in say(catches_of(many, ON), ENGLISH)
    assert catches_of(few, ON).points_to is None
    assert "do not tell yet" in say(catches_of(few, ON), ENGLISH)


@given(st.lists(st.tuples(*[st.integers(0, 12)] * 4), max_size=4), st.sampled_from([LEGS, LEGS[:2], ()]))
def test_no_catch_says_that_a_place_is_free_and_a_place_is_named_only_with_ground(readings, legs):
    rows = [traps_set(90, *legs)] if legs else []
    for i, counts in enumerate(readings):
        held = {
            place.replace(" ", "_"): count for place, count in zip(LEGS, counts, strict=True) if place in legs
        }
        rows.append(traps_read(80 - 14 * i, 14, **held))
    told = catches_of(rows, ON)
    words = say(told, ENGLISH).lower()
    assert not any(word in words for word in ("is clear", "is free", "no bugs are", "none are", "safe"))
    best = told.points_to
    if best is None:
        assert "most bugs a trap" not in words
    else:
        assert best.most >= TELLS
        assert best.total > 0
        assert best.total / best.days == max(one.total / one.days for one in told.places)

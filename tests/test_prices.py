"""Prices by hand, without a run: what a look costs, and which prices a file may give."""

from __future__ import annotations

import numpy as np
import pytest
from plain_programmes import COLUMNS

from spread.errors import SettingsError
from spread.programmes import columns as c
from spread.programmes.money import KINDS, Prices, costs, parse_prices


def test_one_look_costs_one_knock_and_a_monitor_two_with_its_check():
    """By hand at 60 an hour, so that a minute costs 1."""
    prices = Prices(
        hour=60.0,
        knock=4.0,
        look={"brief-visual": 8.0, "interceptors": 10.0},
        check={"brief-visual": 0.0, "interceptors": 5.0},
        fee={"brief-visual": 0.5, "interceptors": 3.0},
    )
    assert prices.of_look("brief-visual") == pytest.approx(4 + 8 + 0.5)
    assert prices.of_look("interceptors") == pytest.approx(2 * 4 + 10 + 5 + 3)


BOUNDS = {
    "hour": 1_000_000.0,
    "knock": 480.0,
    "report": 480.0,
    "notice": 480.0,
    "trip": 2_000.0,
    "survey_minutes": 480.0,
    "survey": 1_000_000.0,
    "loss": 10_000_000.0,
    "look.brief-visual": 480.0,
    "check.interceptors": 480.0,
    "fee.dog": 1_000_000.0,
    "treat.heavy": 2_000.0,
    "material.spray": 1_000_000.0,
}
"""The most that each price may be, as the page and the messages say it."""


@pytest.mark.parametrize("key", BOUNDS)
def test_a_price_from_nothing_to_its_bound_is_taken_and_none_beyond(key):
    part, _, inner = key.partition(".")

    def read(value):
        prices = parse_prices({part: {inner: value}} if inner else {part: value}, "prices.toml")
        return getattr(prices, part)[inner] if inner else getattr(prices, part)

    assert read(0.0) == 0.0
    assert read(0.25) == 0.25
    assert read(BOUNDS[key]) == BOUNDS[key]
    for beyond in (-0.25, BOUNDS[key] + 0.25):
        with pytest.raises(SettingsError, match=inner or part):
            read(beyond)


def test_infestation_costs_the_owner_nothing_unless_a_price_is_given():
    assert Prices().loss == 0.0
    assert parse_prices({}, "prices.toml").loss == 0.0


def test_a_price_of_its_own_of_a_survey_is_all_that_one_unit_surveyed_costs():
    """By hand: 3 units surveyed at 20 each, whatever the hour and the minutes are."""
    counts = np.zeros((1, len(COLUMNS)))
    counts[0, COLUMNS.index(f"looks: {c.PROTOCOL}")] = 3
    paid = costs(counts, Prices(survey=20.0, hour=500.0))[0]
    assert paid[KINDS.index("surveys")] == pytest.approx(60.0)
    assert paid.sum() == pytest.approx(60.0)
    assert costs(counts, Prices(hour=100.0))[0].sum() == pytest.approx(3 * 14.4 * 100 / 60)


def test_the_currency_is_the_files_own_word():
    assert parse_prices({"currency": "EUR"}, "prices.toml").currency == "EUR"
    assert parse_prices({}, "prices.toml").currency == "US$"

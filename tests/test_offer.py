"""An offer's file and form: what is read, what is refused in a sentence, what goes back to a file."""

import tomllib

import pytest

from dashboard.programmes.offer import NUMBERS, PREFIX, offer_fields, typed_offer
from spread.errors import SettingsError
from spread.programmes.fees import Fees
from spread.programmes.money import Prices, parse_prices
from spread.programmes.offer import Terms, offer_toml, parse_offer
from spread.programmes.price_list import price_basis
from spread.words import ENGLISH, say
from spread.words.offer import fee_rows, guarantee_lines

WHOLE = Terms(
    Fees(
        600.0,
        6.5,
        0.0,
        240.0,
        120.0,
        term_months=12,
        renewal="yearly",
        notice_days=60,
        retreats=True,
        refund=0.1,
    ),
    year=2026,
    scope=('All homes, not the "shops".',),
    ends=("Sale of the building.",),
)


def test_an_offer_goes_to_a_file_and_comes_back_the_same():
    assert parse_offer(tomllib.loads(offer_toml(WHOLE)), "offer.toml") == WHOLE
    assert parse_offer({}, "offer.toml") == Terms()
    assert Terms().schedule is None


@pytest.mark.parametrize(
    ("table", "words"),
    [
        ({"fees": {"visits": 3}}, "did you mean 'visit'"),
        ({"fees": {"visit": -1}}, "expected 0 to"),
        ({"guarantee": {"refund": 2.0}}, "expected 0 to 1"),
        ({"term": {"renewal": "for ever"}}, "is not known"),
        ({"scope": "all"}, "not a list of texts"),
        ({"ends": ["x" * 301]}, "too long"),
    ],
)
def test_a_slip_in_an_offer_is_one_sentence(table, words):
    with pytest.raises(SettingsError) as caught:
        parse_offer(table, "offer.toml")
    assert words in str(caught.value)
    assert "offer.toml" in str(caught.value)


def test_what_is_typed_goes_over_the_file_and_a_bad_entry_gets_a_sentence():
    typed = typed_offer(
        WHOLE, {f"{PREFIX}visit": "12,50", f"{PREFIX}retreats": "no", f"{PREFIX}scope": "a\n\n b "}
    )
    assert (typed.terms.fees.visit, typed.terms.fees.set_up) == (12.5, 600.0)
    assert not typed.terms.fees.retreats
    assert typed.terms.scope == ("a", "b")
    assert not typed.problems
    bad = typed_offer(WHOLE, {PREFIX + name: "lots" for name in NUMBERS})
    assert bad.terms == WHOLE
    assert set(bad.problems) == {PREFIX + name for name in NUMBERS}
    assert (
        "whole number" in typed_offer(WHOLE, {f"{PREFIX}term_months": "1.5"}).problems[f"{PREFIX}term_months"]
    )
    assert {field["key"] for field in offer_fields(WHOLE, "US$")} == {PREFIX + name for name in NUMBERS}


def test_a_fee_of_nothing_is_no_row_and_a_guarantee_is_said_only_where_it_is_given():
    assert [row[0] for row in fee_rows(Fees(visit=3.0), "US$", ENGLISH)] == [
        "A visit that somebody could make"
    ]
    assert "no guarantee" in guarantee_lines(Fees(), None, "US$", ENGLISH)[0]
    assert "for nothing" in guarantee_lines(Fees(retreats=True), None, "US$", ENGLISH)[0]


def test_a_price_that_was_changed_is_called_published_no_more():
    plain, own = price_basis(Prices()), price_basis(parse_prices({"hour": 61}, "prices.toml"))
    assert own.own == 1
    assert own.published < plain.published
    assert (plain.year, own.year) == (2016, None)
    assert parse_prices({"hour": 61, "year": 2026}, "prices.toml").year == 2026
    assert "firm's own" not in say(plain, ENGLISH)
    assert "1 is the firm's own" in say(own, ENGLISH)

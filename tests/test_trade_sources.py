"""Every number of the trade stands beside its source."""

import importlib
import math
import pkgutil
import re
from collections.abc import Mapping

import pytest

import spread.trade
import spread.trade.methods
from spread.trade.sources import CONFIDENCES, Sourced, sourced_row

MODULES = [
    importlib.import_module(f"spread.trade.{info.name}")
    for info in pkgutil.iter_modules(spread.trade.__path__)
] + [
    importlib.import_module(f"spread.trade.methods.{info.name}")
    for info in pkgutil.iter_modules(spread.trade.methods.__path__)
]


def _sourced_in(value):
    if isinstance(value, Sourced):
        yield value
    elif isinstance(value, Mapping):
        for item in value.values():
            yield from _sourced_in(item)
    elif isinstance(value, tuple):
        for item in value:
            yield from _sourced_in(item)


def _all_numbers():
    for module in MODULES:
        for name, value in vars(module).items():
            for number in _sourced_in(value):
                yield f"{module.__name__.rsplit('.', 1)[1]}.{name}", number


ALL = list(_all_numbers())


def test_there_are_numbers_in_every_module_of_facts():
    with_numbers = {name.split(".")[0] for name, _ in ALL}
    assert {"biology", "building_stock", "detection", "false_finds", "routes", "treatment"} <= with_numbers
    assert len(ALL) > 90  # each under one name only, since its aliases are gone


def test_every_number_names_a_paper_or_says_that_it_is_a_judgement():
    plain = ("judgement", "common practice, no source", "from memory", "second-hand")
    for name, number in ALL:
        words = number.source.lower()
        has_year = re.search(r"\b(19|20)\d\d\b", words) is not None
        assert has_year or "doi " in words or any(word in words for word in plain), name
        assert number.confidence in CONFIDENCES, name
        assert number.low <= number.central <= number.high, name


def test_a_pure_judgement_is_never_called_strong():
    for name, number in ALL:
        if number.source.startswith("judgement"):
            assert number.confidence == "C", name


def test_a_number_says_what_kind_of_source_it_has():
    for name, number in ALL:
        assert (number.kind == "judged") == number.source.startswith("judgement"), name
        if number.kind != "judged":
            words = {"joint fit": "fitted", "no source": "none", "second-hand": "second-hand"}
            said = [kind for word, kind in words.items() if word in number.source]
            assert number.kind == (said or ["published"])[0], name


def test_a_chance_or_share_lies_between_none_and_all():
    for name, number in ALL:
        if number.unit.startswith(("chance", "share")):
            assert 0.0 <= number.low <= number.high <= 1.0, name


@pytest.mark.parametrize(
    "values",
    [
        (1.0, 2.0, 3.0, "per week", "judgement", "C"),
        (4.0, 2.0, 3.0, "per week", "judgement", "C"),
        (math.nan, 2.0, 3.0, "per week", "judgement", "C"),
        (2.5, 2.0, math.inf, "per week", "judgement", "C"),
        (2.5, 2.0, 3.0, "per week", " ", "C"),
        (2.5, 2.0, 3.0, "", "judgement", "C"),
        (2.5, 2.0, 3.0, "per week", "judgement", "D"),
        (2.5, 2.0, 3.0, "per week", "judgement", "C", "guessed"),
    ],
)
def test_a_number_out_of_its_range_or_without_words_is_refused(values):
    with pytest.raises(ValueError, match=r"low <= central|finite|unit and its source|confidence|kind"):
        Sourced(*values)


def test_a_row_of_unequal_lengths_is_refused():
    with pytest.raises(ValueError, match="zip"):
        sourced_row((0.1, 0.2), (0.0,), (1.0, 1.0), unit="chance", source="judgement", confidence="C")

"""Prices as typed on the programme page or read from a file: texts to numbers, faults to sentences."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from spread.errors import SettingsError
from spread.programmes.money import PRICES_FILE, Prices, parse_prices, read_prices, settings_of
from spread.programmes.price_list import as_toml, flat, price_list, value_of, with_values
from spread.session import Session
from spread.toml_file import parse_toml
from spread.trade.prices import YEAR
from spread.words import ENGLISH
from spread.words.programmes import price_name

CURRENCY = "currency"
LONGEST = 12
"""Letters of a currency."""
_TWO_WAYS = re.compile(r"[1-9]\d{0,2}(,\d{3})+(\.\d*)?|\d{1,3}(\.\d{3})+,\d*")


@dataclass(frozen=True, slots=True)
class Typed:
    """What was typed on the page.

    ``prices``: the building's prices with every good number in it. ``problems``: a sentence by key for every
    bad one. ``values``: the good numbers by key.
    """

    prices: Prices
    problems: Mapping[str, str] = field(default_factory=dict)
    values: Mapping[str, float] = field(default_factory=dict)


def usual_prices(session: Session) -> Prices:
    """Return the prices of the building's own file, or the package's, with the building's minutes."""
    pace = session.building.settings.pace
    own = session.building.folder / PRICES_FILE
    return read_prices(own, pace=pace) if own.is_file() else Prices().with_pace(pace)


def typed_prices(usual: Prices, sent: Mapping[str, object]) -> Typed:
    """Read what was typed over the usual prices; an empty field is as usual.

    ``usual``: from :func:`usual_prices`. ``sent``: texts by key
    (:class:`spread.programmes.price_list.Price`), and perhaps a currency; other keys are passed over.
    """
    values: dict[str, float] = {}
    problems: dict[str, str] = {}
    for price in price_list(usual):
        text = str(sent.get(price.key, "")).strip()
        if not text:
            continue
        found = number_typed(text, price.most, price.least)
        if isinstance(found, float):
            values[price.key] = found
        else:
            name, until = price_name(price.key, ENGLISH), value_of(usual, price.key)
            problems[price.key] = f"{name}: {found} Until then {until:g} is used."
    prices = with_values(usual, values)
    if values and usual.year == YEAR:
        prices = replace(prices, year=None)  # one's own beside those of the package: nobody said of when
    if currency := " ".join(str(sent.get(CURRENCY, "")).split())[:LONGEST]:
        prices = replace(prices, currency=currency)
    return Typed(prices, problems, values)


def number_typed(text: str, most: float, least: float = 0.0) -> float | str:
    """Return a number of ``least`` to ``most``, or what is wrong with a text."""
    short = repr(text[:20])
    if _TWO_WAYS.fullmatch(text):
        return f"{short} can be read in two ways; write it without marks between thousands, as in 1200.5."
    try:
        value = float(text.replace(",", "."))
    except ValueError:
        return f"{short} is no number; write digits alone, as in 12.50."
    if not math.isfinite(value) or not least <= value <= most:
        return f"{short} is out of range; write a number from {least:g} to {most:,.0f}."
    return value


def from_file(session: Session, text: str, name: str) -> dict[str, str]:
    """Return the prices of a file by key, as texts for the fields of the page.

    Raises SettingsError with every problem of the file.
    """
    table = settings_of(parse_toml(text, name))
    prices = parse_prices(table, name, pace=session.building.settings.pace)
    found = {key: f"{value:.10g}" for key, value in flat(table).items() if key != "year"}
    return found | ({CURRENCY: prices.currency} if CURRENCY in table else {})


def to_file(session: Session, sent: Mapping[str, object]) -> str:
    """Return the prices in use, those typed included, as a ``prices.toml``; what is as usual is left out.

    Raises SettingsError when a number typed is none.
    """
    usual = usual_prices(session)
    typed = typed_prices(usual, sent)
    if typed.problems:
        raise SettingsError("\n".join(typed.problems.values()))
    plain = Prices().with_pace(session.building.settings.pace)
    own = {
        price.key: value_of(typed.prices, price.key)
        for price in price_list(usual)
        if value_of(typed.prices, price.key) != value_of(plain, price.key)
    }
    if typed.prices.survey is None:
        own.pop("survey", None)  # it follows from its minutes and the hour
    currency = typed.prices.currency
    year = typed.prices.year if typed.prices.year != YEAR else None
    return as_toml(own, "" if currency == plain.currency else currency, year)

"""Every price that the money of programmes is made of: its most, and where its default is from."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType

from spread.facts import Fact
from spread.programmes import columns as c
from spread.programmes.money import LEAST, MOST, Prices
from spread.trade import minutes
from spread.trade import prices as trade
from spread.trade.registry import LOOKING, MONITORS, TREATMENTS
from spread.trade.sources import Sourced

UNITS = {"crew": "people", "day_hours": "hours", "crew_days_a_week": "days", "discount": "%", "reserve": "%"}
"""What numbers are counted in that are neither money nor minutes."""


@dataclass(frozen=True, slots=True)
class Price:
    """One price of the list."""

    #: Its place in ``prices.toml``: a setting (``hour``), or a table and a setting of it (``fee.dog``)
    key: str
    group: str  #: What it belongs to: ``hour``, ``survey``, ``door``, ``crew``, ``time``,
    #: ``look`` or ``treatment``
    unit: str  #: ``money``, or what it is counted in: ``minutes``, ``hours``, ``days``, ``people``, ``%``
    #: least, most: What it may be
    least: float
    most: float
    #: What its source is: one of :data:`spread.trade.sources.KINDS`, ``own`` (the building's or firm's file)
    #: or ``yours`` (it has no default: the owner says it)
    mark: str
    source: str  #: Where its default is from; empty for the last two


@dataclass(frozen=True, slots=True)
class PriceBasis(Fact):
    """Whose the prices of the work are: how many of each kind, with the currency and year of all."""

    own: int
    published: int
    judged: int  #: Those that come second-hand among them
    currency: str
    year: int | None


def price_basis(prices: Prices) -> PriceBasis:
    """Return whose the prices are that are in use; a price that was changed is the firm's own."""
    marks = [price.mark for price in price_list(prices) if price.mark != "yours"]
    own, published = marks.count("own"), marks.count("published")
    return PriceBasis(own, published, len(marks) - own - published, prices.currency, prices.year)


def price_list(usual: Prices) -> tuple[Price, ...]:
    """Return every price in the order in which a person would go through them.

    ``usual``: the prices in use; what differs from the package's own is marked as one's own.
    """
    rows: list[tuple[str, str, Sourced | None]] = [
        ("hour", "hour", trade.HOUR), ("loss", "hour", None), ("survey", "survey", trade.SURVEY),
        ("survey_minutes", "survey", trade.SURVEY_MINUTES), ("knock", "door", minutes.KNOCK),
        ("report", "door", trade.REPORT_MINUTES), ("notice", "door", trade.NOTICE_MINUTES),
        ("trip", "crew", trade.TRIP_MINUTES), ("trip_fee", "crew", None), ("crew", "crew", None),
        ("day_hours", "crew", trade.DAY_HOURS), ("crew_days_a_week", "crew", None),
        ("discount", "time", None), ("reserve", "time", None),
    ]  # fmt: skip
    for method, way in LOOKING.items():
        rows.append((f"look.{method}", "look", way.minutes))
        if method in MONITORS:
            rows.append((f"check.{method}", "look", way.minutes))
        rows.append((f"fee.{method}", "look", way.fee))
    rows += [(f"treat.{size}", "treatment", number) for size, number in trade.TREATMENT_MINUTES.items()]
    rows += [(f"material.{method}", "treatment", row.material) for method, row in TREATMENTS.items()]
    rows += [
        ("encase", "treatment", trade.ENCASE_MINUTES),
        ("encasement", "treatment", trade.ENCASEMENT),
    ]
    plain = Prices()
    found = []
    for key, group, number in rows:
        setting = key.partition(".")[0]
        usually = key == "survey" or value_of(usual, key) == value_of(plain, key)
        mark, source = ("yours", "") if number is None else (number.kind, number.source)
        money = setting in ("hour", "loss", "survey", "fee", "material", "trip_fee", "encasement")
        unit = "money" if money else UNITS.get(setting, "minutes")
        told = (mark, source) if usually else ("own", "")
        found.append(Price(key, group, unit, LEAST.get(setting, 0.0), MOST[setting], *told))
    return tuple(found)


def value_of(prices: Prices, key: str) -> float:
    """Return a price by its key; that of a survey unit is worked out where none is set."""
    name, _, part = key.partition(".")
    if key == "survey":
        return prices.of_look(c.PROTOCOL)
    value = getattr(prices, name)
    return float(value[part] if part else value)


def with_values(prices: Prices, values: Mapping[str, float]) -> Prices:
    """Return prices with some of them changed, by key."""
    changed: dict[str, object] = {key: value for key, value in values.items() if "." not in key}
    for name in {key.partition(".")[0] for key in values if "." in key}:
        own = {key.partition(".")[2]: value for key, value in values.items() if key.startswith(f"{name}.")}
        changed[name] = MappingProxyType({**getattr(prices, name), **own})
    return replace(prices, **changed)  # type: ignore[arg-type]


def as_toml(values: Mapping[str, float], currency: str = "", year: int | None = None) -> str:
    """Return prices by key as the text of a ``prices.toml``."""
    lines = [f"currency = {json.dumps(currency)}"] if currency else []
    lines += [f"year = {year}"] if year else []
    lines += [f"{key} = {value:.10g}" for key, value in values.items() if "." not in key]
    for name in dict.fromkeys(key.partition(".")[0] for key in values if "." in key):
        lines += ["", f"[{name}]"]
        lines += [f"{k.partition('.')[2]} = {v:.10g}" for k, v in values.items() if k.startswith(f"{name}.")]
    return "\n".join(lines).strip() + "\n"


def flat(table: Mapping[str, object]) -> dict[str, float]:
    """Return the numbers of a file of prices by key; what is no number is left out."""
    out: dict[str, float] = {}
    for name, value in table.items():
        parts = {f"{name}.{key}": part for key, part in value.items()} if isinstance(value, Mapping) else None
        for key, part in (parts or {name: value}).items():
            if isinstance(part, int | float) and not isinstance(part, bool):
                out[key] = float(part)
    return out

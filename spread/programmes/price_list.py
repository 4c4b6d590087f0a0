"""Every price that the money of programmes is made of: in words, its most, and where its default is from."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType

from spread.programmes import columns as c
from spread.programmes.money import MOST, Prices
from spread.trade import minutes
from spread.trade import prices as trade
from spread.trade.registry import LOOKING, MONITORS, TREATMENTS

MINUTES = "minutes"
OWN = "your building's or firm's own file"
LOSS = "no default: what a week of an infested unit costs the owner is for the owner to say"
_SIZE_WORDS = {"light": "up to 12 bugs", "moderate": "13 to 50 bugs", "heavy": "more than 50 bugs"}


@dataclass(frozen=True, slots=True)
class Price:
    """One price of the list.

    Parameters
    ----------
    key
        Its place in ``prices.toml``: a setting (``hour``), or a table and a setting of it (``fee.dog``).
    group, words
        What it belongs to, and what it is called.
    money
        Whether it is money; minutes otherwise.
    most
        The most that it may be.
    source
        Where its default is from.
    """

    key: str
    group: str
    words: str
    money: bool
    most: float
    source: str

    @property
    def mark(self) -> str:
        """In a word or two, what kind of source the default has."""
        source = self.source
        if source == OWN:
            return "own"
        if source == LOSS:
            return "yours"
        if source.startswith("judgement"):
            return "judged"
        if "no source" in source:
            return "no source"
        return "second-hand" if "second-hand" in source else "published"


def price_list(usual: Prices) -> tuple[Price, ...]:
    """Return every price in the order in which a person would go through them.

    Parameters
    ----------
    usual
        The prices in use; what differs from the package's own is marked as one's own.
    """
    rows = [
        ("hour", "Hour and loss", "A technician's hour", trade.HOUR.source),
        ("loss", "Hour and loss", "Owner's loss (rent, claims, turnover), an infested unit-week", LOSS),
        (
            "survey",
            "Survey by interview, look and interceptors",
            "A unit, everything in it",
            trade.SURVEY.source,
        ),
        (
            "survey_minutes",
            "Survey by interview, look and interceptors",
            "Time of a unit",
            trade.SURVEY_MINUTES.source,
        ),
        ("knock", "At the door and around it", "A knock", minutes.KNOCK.source),
        ("report", "At the door and around it", "A report taken in", trade.REPORT_MINUTES.source),
        ("notice", "At the door and around it", "An entry notice", trade.NOTICE_MINUTES.source),
        ("trip", "At the door and around it", "The way there, a week with visits", trade.TRIP_MINUTES.source),
    ]
    for method, way in LOOKING.items():
        name, source, monitor = way.name, way.minutes.source, method in MONITORS
        rows.append((f"look.{method}", "Looks and monitors", f"{name}{': set' if monitor else ''}", source))
        if monitor:
            rows.append((f"check.{method}", "Looks and monitors", f"{name}: check", source))
        rows.append((f"fee.{method}", "Looks and monitors", f"{name}: fee or material", way.fee.source))
    for size, number in trade.TREATMENT_MINUTES.items():
        rows.append((f"treat.{size}", "Treatment visits", f"A visit, {_SIZE_WORDS[size]}", number.source))
    for method, treatment in TREATMENTS.items():
        rows.append(
            (
                f"material.{method}",
                "Treatment visits",
                f"{treatment.short}: material",
                treatment.material.source,
            )
        )
    plain = Prices()
    return tuple(
        Price(
            key,
            group,
            words,
            key.split(".")[0] in ("hour", "loss", "survey", "fee", "material"),
            MOST[key.split(".")[0]],
            source if value_of(usual, key) == value_of(plain, key) or key == "survey" else OWN,
        )
        for key, group, words, source in rows
    )


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


def as_toml(values: Mapping[str, float], currency: str = "") -> str:
    """Return prices by key as the text of a ``prices.toml``."""
    lines = [f"currency = {json.dumps(currency)}"] if currency else []
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

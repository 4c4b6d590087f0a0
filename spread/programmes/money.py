"""Counts times prices: money and hours of runs that are done, so that a new price needs no new run."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from types import MappingProxyType

import numpy as np

from spread.posterior.dynamics import Floats
from spread.programmes import columns as c
from spread.programmes.rules import Whole
from spread.toml_file import read_toml
from spread.toml_table import TomlTable
from spread.trade import prices as trade
from spread.trade.pace import Pace
from spread.trade.registry import LOOKING, TREATMENTS

KINDS = ("doors", "looks", "surveys", "treatment", "office", "travel")
"""Kinds of what the work costs whoever does it: knocking; looking and checking monitors; surveys by the
protocol; treating; reports and notices; and the way there. What an owner loses is none of them."""
PRICES_FILE = "prices.toml"
MOST: Mapping[str, float] = MappingProxyType(
    {
        "hour": 1e6, "crew": 20.0, "day_hours": 24.0, "crew_days_a_week": 1000.0, "trip_fee": 1e6,
        "discount": 30.0, "reserve": 99.0,
        "knock": 480.0, "report": 480.0, "notice": 480.0, "trip": 2000.0, "look": 480.0,
        "check": 480.0, "fee": 1e6, "survey": 1e6, "survey_minutes": 480.0, "treat": 2000.0, "material": 1e6,
        "loss": 1e7, "encase": 480.0, "encasement": 1e6,
    }
)  # fmt: skip
"""The most that each field of :class:`Prices` may be."""
LEAST: Mapping[str, float] = MappingProxyType({"crew": 1.0, "day_hours": 0.5})
"""The least that a field may be where it is not 0."""


@dataclass(frozen=True)
class Prices:
    """What things cost; every default stands beside its source in :mod:`spread.trade.prices`."""

    currency: str = "US$"  #: Word or sign before amounts
    year: int | None = trade.YEAR  #: Of the prices; None where they are one's own and nobody said
    hour: float = trade.HOUR.central  #: A technician's hour
    #: knock, report, notice, trip: Minutes of a knock, of a report taken in, of a notice, and of the way
    #: there and back of a crew's day
    knock: float = Pace().knock
    report: float = trade.REPORT_MINUTES.central
    notice: float = trade.NOTICE_MINUTES.central
    trip: float = trade.TRIP_MINUTES.central
    trip_fee: float = 0.0  #: What a trip costs beside the time: a car, a toll
    crew: float = 1.0  #: People who come together
    day_hours: float = trade.DAY_HOURS.central  #: Hours at doors in a day of each of them
    crew_days_a_week: float = 0.0  #: Days a week that the crew has for the building; 0 is as many as it takes
    #: look, check: Minutes in the unit by method: of a look or of setting a monitor, and of checking it
    look: Mapping[str, float] = field(default_factory=lambda: _split(Pace())[0])
    check: Mapping[str, float] = field(default_factory=lambda: _split(Pace())[1])
    #: Material or fee by method, a look or a monitor set
    fee: Mapping[str, float] = field(
        default_factory=lambda: MappingProxyType({key: row.fee.central for key, row in LOOKING.items()})
    )
    #: survey_minutes, survey: Minutes and all-in price of a unit surveyed by the protocol; without a price of
    #: its own it is that of the minutes (US$12 by the defaults, as published)
    survey_minutes: float = trade.SURVEY_MINUTES.central
    survey: float | None = None
    #: Minutes of a treatment visit, by :data:`spread.programmes.columns.SIZES`
    treat: Mapping[str, float] = field(
        default_factory=lambda: MappingProxyType({s: n.central for s, n in trade.TREATMENT_MINUTES.items()})
    )
    #: Material of a treatment visit, by method
    material: Mapping[str, float] = field(
        default_factory=lambda: MappingProxyType(
            {key: row.material.central for key, row in TREATMENTS.items()}
        )
    )
    #: encase, encasement: Minutes to put encasements on the beds of a household, and the encasements
    encase: float = trade.ENCASE_MINUTES.central
    encasement: float = trade.ENCASEMENT.central
    #: What one infested unit-week costs the owner (rent, claims, turnover): weighed, and in no cost
    loss: float = 0.0
    discount: float = (
        0.0  #: Per cent a year by which money paid later counts less where programmes are compared
    )
    reserve: float = 0.0  #: Per cent of the futures that money set aside is to cover; 0 asks for none

    def with_pace(self, pace: Pace) -> Prices:
        """Return the same with the minutes of a building's own pace."""
        look, check = _split(pace)
        return replace(self, knock=pace.knock, look=look, check=check)

    def of_look(self, method: str) -> float:
        """Return the price of one unit looked at by a method, its knocks and check included."""
        if method == c.PROTOCOL:
            return self.survey_minutes * self.hour / 60.0 if self.survey is None else self.survey
        again = self.check[method]
        minutes = self.knock * (2 if again else 1) + self.look[method] + again
        return minutes * self.hour / 60.0 + self.fee[method]


def _split(pace: Pace) -> tuple[Mapping[str, float], Mapping[str, float]]:
    """Return minutes of a first visit and of a check by method; a check is nothing for a look."""
    look = {m: pace.set_up.get(m, minutes) for m, minutes in pace.look.items()}
    check = {m: minutes - look[m] for m, minutes in pace.look.items()}
    return MappingProxyType(look), MappingProxyType(check)


def tables_of_prices(prices: Prices) -> tuple[Floats, Floats]:
    """Return money and minutes of one of each column, both of shape (columns, kinds)."""
    money = np.zeros((c.WIDTH, len(KINDS)))
    minutes = np.zeros_like(money)
    kind = {name: place for place, name in enumerate(KINDS)}
    minutes[c.KNOCKS, kind["doors"]] = prices.knock
    minutes[c.REPORTS, kind["office"]] = prices.report
    minutes[c.NOTICES, kind["office"]] = prices.notice
    minutes[c.TRIPS, kind["travel"]] = prices.trip * prices.crew
    money[c.TRIPS, kind["travel"]] = prices.trip_fee
    minutes[c.ENCASEMENTS, kind["treatment"]] = prices.encase
    money[c.ENCASEMENTS, kind["treatment"]] = prices.encasement
    for m, method in enumerate(c.METHODS):
        if method == c.PROTOCOL:
            minutes[c.LOOKS + m, kind["surveys"]] = prices.survey_minutes
            continue
        minutes[c.LOOKS + m, kind["looks"]] = prices.look[method]
        minutes[c.CHECKS + m, kind["looks"]] = prices.check[method]
        money[c.LOOKS + m, kind["looks"]] = prices.fee[method]
    for m, method in enumerate(c.TREATMENTS):
        for s, size in enumerate(c.SIZES):
            minutes[c.TREATED + len(c.SIZES) * m + s, kind["treatment"]] = prices.treat[size]
            money[c.TREATED + len(c.SIZES) * m + s, kind["treatment"]] = prices.material[method]
    money += minutes * prices.hour / 60.0
    # The survey's price is for everything.
    money[c.LOOKS + c.METHODS.index(c.PROTOCOL), kind["surveys"]] = prices.of_look(c.PROTOCOL)
    return money, minutes


def costs(counts: Whole, prices: Prices) -> Floats:
    """Return what the work of every run costs by kind, shape (R, kinds), from counts (R, columns).

    Trips are those that the counts have (:func:`spread.programmes.crew.with_trips`).
    """
    return counts @ tables_of_prices(prices)[0]


def losses(counts: Whole, prices: Prices) -> Floats:
    """Return what the owner loses in every run by infested units, shape (R,): no part of any cost."""
    return prices.loss * counts[:, c.BUG_WEEKS].astype(float)


def hours(counts: Whole, prices: Prices) -> Floats:
    """Return the hours of every run by kind, shape (R, kinds)."""
    return counts @ tables_of_prices(prices)[1] / 60.0


def read_prices(path: Path, *, pace: Pace | None = None) -> Prices:
    """Read ``prices.toml``: any of the fields of :class:`Prices`, those by method or size as tables.

    ``path``: the file; its settings may stand at the top or under ``[prices]``; ``pace``: the building's own
    minutes, which the file may change again. Raises SettingsError with every problem of the file.
    """
    fix = f"write one such as hour = 65 and [fee] dog = 15, or leave {PRICES_FILE} out"
    return parse_prices(settings_of(read_toml(path, missing=fix)), path.name, pace=pace)


def settings_of(table: Mapping[str, object]) -> Mapping[str, object]:
    """Return the settings of a file of prices, which may stand at its top or all under ``[prices]``."""
    inner = table.get("prices", table) if len(table) == 1 else table
    return inner if isinstance(inner, Mapping) else table


def parse_prices(table: Mapping[str, object], file: str, *, pace: Pace | None = None) -> Prices:
    """Turn a parsed TOML table into prices; see :func:`read_prices`."""
    usual = Prices().with_pace(pace or Pace())
    top = TomlTable(file, "", table)

    def part(name: str) -> Mapping[str, float]:
        row, known = top.table(name), getattr(usual, name)
        return MappingProxyType(
            {key: row.number(key, value, 0.0, MOST[name]) for key, value in known.items()}
        )

    alone = (
        "hour", "knock", "report", "notice", "trip", "trip_fee", "crew", "day_hours", "crew_days_a_week",
        "survey_minutes", "loss", "discount", "reserve", "encase", "encasement",
    )  # fmt: skip
    year = top.whole("year", trade.YEAR, 1990, 2100)
    own = any(key not in ("year", "currency") for key in table)
    prices = Prices(
        year=year if "year" in table or not own else None,
        currency=top.text("currency", usual.currency),
        survey=top.number("survey", 12.0, 0.0, MOST["survey"]) if "survey" in table else None,
        look=part("look"),
        check=part("check"),
        fee=part("fee"),
        treat=part("treat"),
        material=part("material"),
        **{name: top.number(name, getattr(usual, name), LEAST.get(name, 0.0), MOST[name]) for name in alone},
    )
    top.asked.append("survey")
    top.settle()
    return prices

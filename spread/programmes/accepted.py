"""An accepted programme, as it is kept: settings, offer, and the forecast of the runs it was chosen by.

What is kept is never changed. Another programme, or a new forecast of the same one, is kept behind it.
"""

from __future__ import annotations

import base64
import datetime as dt
import hashlib
import json
import tomllib
import zlib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from importlib.metadata import version
from typing import Any

import numpy as np
from numpy.typing import NDArray

from spread.decisions.grades.promising import mark_of_log
from spread.decisions.view import View
from spread.errors import SettingsError, SpreadError
from spread.facts import Fact
from spread.posterior.dynamics import Floats
from spread.programmes import columns as c
from spread.programmes.books import books_of
from spread.programmes.crew import crew_minutes
from spread.programmes.fees import Fees
from spread.programmes.figures import share
from spread.programmes.kept import Kept
from spread.programmes.money import Prices, parse_prices
from spread.programmes.offer import Terms, offer_toml, parse_offer
from spread.programmes.own import table_of
from spread.programmes.price_list import as_toml, price_list, value_of
from spread.programmes.programme import Programme
from spread.programmes.reading import parse_programme
from spread.programmes.results import weeks_to_nil
from spread.programmes.run import Progress, Runs, RunSettings, Simulated, simulate
from spread.records.texts import Text, Texts
from spread.trade.pace import Pace

COUNTED: Mapping[str, tuple[int, ...]] = {
    "visits": (c.VISITS,),
    "shut": (c.SHUT_DOORS, c.REFUSALS),
    "reports": (c.REPORTS,),
    "finds": (c.FINDS, c.FALSE_FINDS),
    "treatments": tuple(range(c.TREATED, c.WIDTH)),
    "again": (c.RELAPSES,),
    "move-ins": (c.MOVE_INS,),
}
"""What runs and a log both count, by name: doors stood at; those of them that stayed shut; complaints; units
where bugs were found that were not known of; treatment visits; units found again within 26 weeks of their
closing; households that moved in."""
INFESTED, PAID = "infested", "paid"
KEPT_RUNS = 400
"""Most runs of which every month is kept; the bands are those of all runs."""
POINTS = (0.05, 0.5, 0.95)
_LARGEST = 4_000_000  #: Bytes of kept runs; more than any number of months and runs needs


@dataclass(frozen=True)
class Accepted(Fact):
    """A programme that was accepted on a day, or a new forecast of one."""

    on: dt.date
    by: str  #: Work code of who pressed; empty where nobody signs in. It is no signature
    renews: str  #: Id of the accepted programme of which this is a new forecast; empty for one of its own
    key: str
    name: str
    settings: Mapping[str, Any]  #: Of the programme, as its file would have them
    offer: str  #: The offer as a file
    prices: str  #: The prices as a file
    currency: str
    by_fees: bool  #: Whether :data:`PAID` is a bill by the fees; the work at its cost otherwise
    seed: int
    version: str  #: Of this program
    log: str  #: What the log held (:func:`spread.decisions.grades.promising.mark_of_log`)
    units: int
    runs: int
    ends: tuple[int, ...]  #: Weeks after which the months are over
    #: By quantity and month, up to the month's end: 5, 50 and 95 % points of all runs
    bands: Mapping[str, tuple[tuple[float, float, float], ...]]
    nil_by: float  #: Chance that no unit is infested at some time
    nil_at_end: float  #: Chance that none is at the end
    draws: Mapping[str, NDArray[np.int32]]  #: Shape (runs kept, months): the same, run by run; not the money

    @cached_property
    def id(self) -> str:
        """The same for what says the same, whoever pressed."""
        said = json.dumps({**_told(self), "by": ""}, sort_keys=True)
        return hashlib.blake2b(said.encode(), digest_size=10).hexdigest()

    @property
    def weeks(self) -> int:
        """For how long it was run ahead."""
        return self.ends[-1]

    def day(self, month: int) -> dt.date:
        """Return the last day of a month of the programme; that of month 0 is the day of acceptance."""
        return self.on + dt.timedelta(weeks=self.ends[month - 1] if month else 0)

    def over(self, on: dt.date) -> int:
        """Return how many months are over on a day."""
        return sum(self.day(month + 1) <= on for month in range(len(self.ends)))

    @property
    def programme(self) -> Programme:
        """The programme itself; raises SettingsError where this version cannot read its settings."""
        return parse_programme(self.settings, self.name or self.key, key=self.key)

    @property
    def encases(self) -> bool:
        """Whether its courses put encasements on the beds, at a price of their own."""
        treatment = self.settings.get("treatment")
        return isinstance(treatment, Mapping) and treatment.get("encase") is True

    @property
    def terms(self) -> Terms:
        """The offer itself."""
        return parse_offer(tomllib.loads(self.offer), "offer")

    @property
    def priced(self) -> Prices:
        """The prices themselves."""
        return parse_prices(tomllib.loads(self.prices), "prices")


def accepted_of(
    view: View,
    simulated: Simulated,
    key: str,
    *,
    prices: Prices,
    terms: Terms,
    by: str = "",
    renews: str = "",
) -> Accepted:
    """Return a programme of runs that are done, with the forecast that they give.

    ``view``: the building the runs began from; ``simulated``: with at least one run done; ``key``: of the
    programme; ``prices``, ``terms``: as it was offered; ``by``, ``renews``: as in :class:`Accepted`.
    """
    runs = simulated.of(key)
    ends, kept = tuple(map(int, runs.kept.ends)), runs.kept
    series: dict[str, Floats] = {INFESTED: runs.infested[:, list(ends)].astype(np.float64)}
    series |= {name: counted(kept.by_month, name).astype(np.float64) for name in COUNTED}
    fees = terms.schedule
    named = replace(runs.programme, name=runs.programme.name or runs.programme.key)
    money = [paid(runs, prices, fees, month) for month in range(1, len(ends) + 1)]
    points = {
        name: np.quantile(values, POINTS, axis=0, method="inverted_cdf").T
        for name, values in {**series, PAID: np.stack(money, axis=1)}.items()
    }
    return Accepted(
        on=view.on, by=by, renews=renews, key=key, name=runs.programme.name,
        settings=table_of(named), offer=offer_toml(terms), prices=_prices_toml(prices),
        currency=prices.currency, by_fees=fees is not None, seed=simulated.settings.seed,
        version=version("spread"), log=mark_of_log(view), units=simulated.units, runs=simulated.done,
        ends=ends, bands={name: _rows(rows) for name, rows in points.items()},
        nil_by=share(weeks_to_nil(runs.infested) <= ends[-1]).chance,
        nil_at_end=share(runs.infested[:, -1] == 0).chance,
        draws={name: values[:KEPT_RUNS].astype(np.int32) for name, values in series.items()},
    )  # fmt: skip


def renewed(
    view: View, old: Accepted, *, pace: Pace, by: str = "", progress: Progress | None = None
) -> Accepted:
    """Return a new forecast of an accepted programme, from what is known today to the end of its time.

    ``old``: the accepted programme itself and no renewal of it. Raises SettingsError where its time is over
    or its settings cannot be read any more.
    """
    weeks = old.weeks - (view.on - old.on).days // 7
    if not 1 <= weeks <= old.weeks:
        what = (
            f"the accepted programme runs from {old.on} for {old.weeks} weeks, and {view.on} is not in them"
        )
        raise SettingsError.at("programme", "", what, "accept a programme anew")
    runs = min(max(old.runs, 1), 2000)
    settings = RunSettings(weeks, runs, old.seed, crew_minutes=crew_minutes(old.priced))
    done = simulate(view, [old.programme], settings, pace=pace, progress=progress)
    return accepted_of(view, done, old.key, prices=old.priced, terms=old.terms, by=by, renews=old.id)


def counted(by_month: NDArray[np.signedinteger[Any]], name: str) -> NDArray[np.int64]:
    """Return a quantity of :data:`COUNTED` from counts whose last axis has the columns."""
    return np.asarray(by_month[..., list(COUNTED[name])].sum(axis=-1))


def paid(runs: Runs, prices: Prices, fees: Fees | None, month: int) -> Floats:
    """Return what was paid in every run up to the end of a month.

    What the guarantee pays back because a unit is under treatment at the end is known at the end alone.
    """
    kept = runs.kept if month == len(runs.kept.ends) else runs.kept.up_to(month)
    if fees is not None and kept is not runs.kept:
        fees = replace(fees, refund=0.0)
    return books_of([replace(runs, kept=kept)], prices, fees, course=0.0)[runs.programme.key].paid


def paid_so_far(counts: NDArray[np.int64], weeks: int, accepted: Accepted) -> float:
    """Return what the counts of a log come to by the prices or fees of an accepted programme."""
    nothing = np.zeros((1, weeks + 1), np.int32)
    kept = Kept(
        nothing, nothing, nothing[:, :weeks], nothing[:, :weeks], counts[None],
        np.zeros((1, 0, accepted.units), np.int8),
        np.array([weeks], np.int64), counts[None, None].astype(np.int32),
    )  # fmt: skip
    fees = accepted.terms.schedule
    runs = Runs(Programme(accepted.key, ""), kept)
    fees = None if fees is None else replace(fees, refund=0.0)
    return float(books_of([runs], accepted.priced, fees, course=0.0)[accepted.key].paid[0])


def text_of(accepted: Accepted) -> Text:
    """Return what is to be kept."""
    body = {"id": accepted.id, **_told(accepted)}
    return Text(accepted.id, json.dumps(body, ensure_ascii=False, separators=(",", ":")))


def accepted_in(texts: Texts) -> tuple[Accepted, ...]:
    """Return what was kept and can be read, in its order."""
    return tuple(one for text in texts.all() if (one := accepted_of_text(text.body)) is not None)


def standing(kept: Iterable[Accepted]) -> Accepted | None:
    """Return the accepted programme that holds: the last one that is no new forecast of another."""
    return next((one for one in reversed(tuple(kept)) if not one.renews), None)


def newest_forecast(kept: Iterable[Accepted], of: Accepted) -> Accepted | None:
    """Return the last new forecast of an accepted programme; None where there is none."""
    return next((one for one in reversed(tuple(kept)) if one.renews == of.id), None)


def accepted_of_text(body: str) -> Accepted | None:
    """Return an accepted programme from its text; None where it cannot be read: somebody else wrote there."""
    try:
        told = json.loads(body)
        ends = tuple(int(week) for week in told["ends"])
        runs = int(told["runs"])
        in_order = bool(ends) and list(ends) == sorted(set(ends)) and ends[0] >= 1 and ends[-1] <= 520
        if not in_order or runs < 1:
            return None
        bands = {
            name: tuple((float(low), float(mid), float(high)) for low, mid, high in told["bands"][name])
            for name in (*COUNTED, INFESTED, PAID)
        }
        draws = _unpacked(told["draws"], min(runs, KEPT_RUNS), len(ends))
        one = Accepted(
            on=dt.date.fromisoformat(told["on"]), ends=ends, runs=runs, bands=bands, draws=draws,
            settings=dict(told["settings"]), by_fees=bool(told["by_fees"]), seed=int(told["seed"]),
            units=int(told["units"]), nil_by=float(told["nil_by"]), nil_at_end=float(told["nil_at_end"]),
            **{name: str(told[name]) for name in _TEXTS},
        )  # fmt: skip
        _, prices = one.terms, one.priced  # both can be read
        one.day(len(ends))  # a calendar ends
    except (ValueError, TypeError, KeyError, OverflowError, RecursionError, AttributeError, SpreadError):
        return None
    whole = all(
        len(rows) == len(ends) and all(0.0 <= p <= q <= r < 1e12 for p, q, r in rows)
        for rows in bands.values()
    )
    whole &= one.units > 0 and 0.0 <= one.nil_at_end <= 1.0 and 0.0 <= one.nil_by <= 1.0
    return one if whole and prices.hour >= 0 else None


_TEXTS = ("by", "renews", "key", "name", "offer", "prices", "currency", "version", "log")


def _told(one: Accepted) -> dict[str, Any]:
    told: dict[str, Any] = {name: getattr(one, name) for name in _TEXTS}
    return told | {
        "on": one.on.isoformat(), "settings": one.settings, "by_fees": one.by_fees, "seed": one.seed,
        "units": one.units, "runs": one.runs, "ends": one.ends, "bands": one.bands, "nil_by": one.nil_by,
        "nil_at_end": one.nil_at_end, "draws": _packed(one.draws),
    }  # fmt: skip


def _packed(draws: Mapping[str, NDArray[np.int32]]) -> str:
    """Return every month of every run, small: some 60 kB for two years."""
    stacked = np.stack([draws[name] for name in (*COUNTED, INFESTED)])
    steps = np.diff(stacked, axis=2, prepend=0).astype("<i4")
    return base64.b85encode(zlib.compress(steps.tobytes(), 9)).decode()


def _unpacked(text: str, runs: int, months: int) -> dict[str, NDArray[np.int32]]:
    names = (*COUNTED, INFESTED)
    try:
        data = zlib.decompressobj().decompress(base64.b85decode(text), _LARGEST)
    except zlib.error as error:
        raise ValueError(str(error)) from None
    flat = np.frombuffer(data, dtype="<i4").reshape(len(names), runs, months)
    found = np.cumsum(flat, axis=2, dtype=np.int64)
    if found.min() < 0 or found.max() > 1e8:
        raise ValueError("counts that no building has")
    return {name: found[place].astype(np.int32) for place, name in enumerate(names)}


def _rows(points: Floats) -> tuple[tuple[float, float, float], ...]:
    return tuple((round(float(a), 2), round(float(b), 2), round(float(z), 2)) for a, b, z in points)


def _prices_toml(prices: Prices) -> str:
    values = {price.key: value_of(prices, price.key) for price in price_list(prices)}
    if prices.survey is None:
        del values["survey"]  # it follows from its minutes and the hour
    return as_toml(values, prices.currency, prices.year)

"""The draws of a fit with their chains, as labelled arrays that other programs of statistics take."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from importlib import import_module
from types import ModuleType
from typing import Any

import numpy as np
from numpy.typing import NDArray

from spread.decisions.doors.learned import quantiles
from spread.errors import SpreadError
from spread.posterior.draws import Posterior
from spread.posterior.rates import theta_names
from spread.session import Session
from spread.trade.biology import LEVEL_NAMES
from spread.trade.routes import ROUTES
from spread.weeks import monday_of

POINTS = {"low": 0.05, "median": 0.5, "high": 0.95}
"""The ends of the 90 % interval, and its middle."""


@dataclass(frozen=True, slots=True)
class Labelled:
    """An array whose dimensions have names.

    ``dims``: a name for each dimension. ``values``: the numbers. ``words``: what they are, with their unit.
    ``group``: the group of the netCDF file: ``posterior`` and ``sample_stats`` as ArviZ has them, or
    ``summary``.
    """

    dims: tuple[str, ...]
    values: NDArray[Any]
    words: str
    group: str = "posterior"


class Draws(Mapping[str, Labelled]):
    """The draws of a building's fit, labelled by chain, draw and unit.

    A mapping from a name to a :class:`Labelled` array: ``level`` (chain, draw, unit), 0 clear to 4 heavy
    today; ``infested_units`` (chain, draw, week); ``rate`` (chain, draw, source), per week; ``log_weight``
    (chain, draw), zeros straight after a fit; and, of the group ``summary``, ``chance`` (unit,
    level_name), ``chance_by_week`` (unit, week), ``infested_interval`` (week, point) and
    ``rate_interval`` (source, point).

    ``name``: of the building. ``posterior``: its fit.
    """

    def __init__(self, name: str, posterior: Posterior) -> None:
        self.name, self.on, self.seed = name, posterior.on, posterior.seed
        self._variables = _variables(posterior)
        chains, draws = self._variables["log_weight"].values.shape
        weeks = posterior.weekly.shape[1]
        self.coords: dict[str, NDArray[Any]] = {
            "chain": np.arange(chains),
            "draw": np.arange(draws),
            "unit": _texts(posterior.units),
            "week": _texts([monday_of(posterior.first_week + t).isoformat() for t in range(weeks)]),
            "source": _texts(theta_names(ROUTES)),
            "level_name": _texts(LEVEL_NAMES),
            "point": _texts(POINTS),
        }

    def __getitem__(self, name: str) -> Labelled:
        return self._variables[name]

    def __iter__(self) -> Iterator[str]:
        return iter(self._variables)

    def __len__(self) -> int:
        return len(self._variables)

    def __repr__(self) -> str:
        chains, draws, units = self["level"].values.shape
        names = ", ".join(self)
        return f"<Draws of {self.name}: {chains} chains of {draws} draws, {units} units; {names}>"

    def in_group(self, group: str) -> dict[str, Labelled]:
        """Return the variables of one group, by name."""
        return {name: one for name, one in self.items() if one.group == group}

    def labels(self, one: Labelled) -> dict[str, NDArray[Any]]:
        """Return the label of every place along every dimension of a variable."""
        return {dim: self.coords[dim][:size] for dim, size in zip(one.dims, one.values.shape, strict=True)}

    def to_xarray(self) -> object:
        """Return the draws as an ``xarray.Dataset`` with the dimensions chain, draw and unit.

        Raises SpreadError where xarray is not installed.
        """
        xarray = needed("xarray", "draws as an xarray.Dataset", "pip install xarray")
        drawn = {**self.in_group("posterior"), **self.in_group("sample_stats")}
        arrays = {
            name: xarray.DataArray(
                one.values, dims=one.dims, coords=self.labels(one), attrs={"long_name": one.words}
            )
            for name, one in drawn.items()
        }
        return xarray.Dataset(arrays, attrs={"building": self.name, "on": self.on.isoformat()})


def draws_of(session: Session) -> Draws:
    """Return the draws of an open building."""
    return Draws(session.plan.name, session.view.posterior)


def needed(module: str, what: str, fix: str = "pip install 'spread[data]'") -> ModuleType:
    """Return a module of an extra.

    Raises SpreadError where it is not installed; the sentence says how to get it.
    """
    try:
        return import_module(module)
    except ImportError:
        raise SpreadError.at(
            "export", "", f"{what} needs the package {module}, which is not installed", fix
        ) from None


def _texts(values: Sequence[str] | Mapping[str, float]) -> NDArray[Any]:
    return np.array(list(values), dtype=object)


def _variables(posterior: Posterior) -> dict[str, Labelled]:
    """Return every array; a week after the last full fit has a chance and no draws of its own."""

    def by_chain(values: NDArray[Any]) -> NDArray[Any]:
        # The chains of a fit are as long as one another and stand one after the other.
        return values.reshape(posterior.diagnostics.chains, -1, *values.shape[1:])

    weights, points = posterior.weights, tuple(POINTS.values())
    chain = ("chain", "draw")
    found = {
        "level": Labelled((*chain, "unit"), by_chain(posterior.draws), "level today, 0 clear to 4 heavy"),
        "log_weight": Labelled(
            chain,
            by_chain(posterior.log_weights),
            "log weight of the draw: answers since the fit",
            "sample_stats",
        ),
        "chance": Labelled(
            ("unit", "level_name"), posterior.levels, "chance of each level today, 0 to 1", "summary"
        ),
        "chance_by_week": Labelled(
            ("unit", "week"), posterior.weekly, "chance of being infested in the week, 0 to 1", "summary"
        ),
    }
    if posterior.totals is not None:
        totals = posterior.totals
        found["infested_units"] = Labelled(
            (*chain, "week"), by_chain(totals), "units infested in the week, as of the last full fit"
        )
        bands = np.stack([quantiles(column, weights, points) for column in totals.T])
        found["infested_interval"] = Labelled(
            ("week", "point"), bands, "units infested in the week: 5 %, 50 % and 95 %", "summary"
        )
    if posterior.rates is not None and posterior.rates.shape[1]:
        found["rate"] = Labelled((*chain, "source"), by_chain(posterior.rates), "rate per week")
        bands = np.stack([quantiles(column, weights, points) for column in posterior.rates.T])
        found["rate_interval"] = Labelled(
            ("source", "point"), bands, "rate per week: 5 %, 50 % and 95 %", "summary"
        )
    return found

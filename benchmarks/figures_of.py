"""Figures of a benchmark run: means over worlds and paired ratios, each with a 95 % interval."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

RESAMPLES = 4000


@dataclass(frozen=True)
class Interval:
    """A figure and its 95 % interval over worlds."""

    value: float
    low: float
    high: float

    def show(self, digits: int = 2) -> str:
        """Return it as ``1.20 (1.10 to 1.31)``."""
        if np.isnan(self.value):
            return "none"
        return f"{self.value:.{digits}f} ({self.low:.{digits}f} to {self.high:.{digits}f})"


def _resampled(count: int) -> np.ndarray:
    """Return the same resamples of worlds for every figure of one run, so that all are paired."""
    return np.random.default_rng(count).integers(count, size=(RESAMPLES, count))


def mean_of(values: Sequence[float]) -> Interval:
    """Return the mean over worlds."""
    return ratio_of(values, np.ones(len(values)))


def ratio_of(above: Sequence[float] | np.ndarray, below: Sequence[float] | np.ndarray) -> Interval:
    """Return the ratio of two sums over the same worlds, interval by resampling worlds in pairs."""
    a, b = np.asarray(above, float), np.asarray(below, float)
    if not len(a) or b.sum() == 0.0:
        return Interval(float("nan"), float("nan"), float("nan"))
    chosen = _resampled(len(a))
    with np.errstate(divide="ignore", invalid="ignore"):
        drawn = a[chosen].sum(axis=1) / b[chosen].sum(axis=1)
    low, high = np.nanquantile(drawn, [0.025, 0.975])
    return Interval(float(a.sum() / b.sum()), float(low), float(high))


def ratio_of_rates(
    a: Sequence[float], a_hours: Sequence[float], b: Sequence[float], b_hours: Sequence[float]
) -> Interval:
    """Return (sum a / sum of its hours) over the same of b, paired over worlds."""
    parts = [np.asarray(x, float) for x in (a, a_hours, b, b_hours)]
    chosen = _resampled(len(parts[0]))

    def rate(pick: Callable[[np.ndarray], np.ndarray]) -> np.ndarray:
        x, xh, y, yh = (pick(part) for part in parts)
        with np.errstate(divide="ignore", invalid="ignore"):  # a resample may avert nothing at all
            return (x / xh) / (y / yh)

    drawn = rate(lambda part: part[chosen].sum(axis=1))
    low, high = np.nanquantile(drawn, [0.025, 0.975])
    return Interval(float(rate(lambda part: part.sum())), float(low), float(high))


@dataclass(frozen=True)
class Doors:
    """The first doors of all worlds of one past."""

    lines: tuple[dict, ...]

    @property
    def names(self) -> list[str]:
        """Strategies, in the order of the run."""
        return list(self.lines[0]["strategies"])

    def of(self, name: str, what: str = "finds") -> list[float]:
        """Return one figure a world of one strategy."""
        return [line["strategies"][name][what] for line in self.lines]

    def ratio(self, name: str, against: str) -> Interval:
        """Return the finds of one strategy over those of another."""
        return ratio_of(self.of(name), self.of(against))

    def auc(self, name: str) -> Interval:
        """Return the mean area under the curve over worlds that have both kinds of units."""
        return mean_of([v for v in self.of(name, "auc") if v is not None])

    def by_shape(self) -> dict[str, Doors]:
        """Return the worlds of each shape."""
        shapes = sorted({line["shape"] for line in self.lines})
        return {s: Doors(tuple(line for line in self.lines if line["shape"] == s)) for s in shapes}


@dataclass(frozen=True)
class Rounds:
    """The closed loop of all worlds of one past."""

    lines: tuple[dict, ...]

    @property
    def names(self) -> list[str]:
        """Strategies, without the worlds that had no rounds."""
        return [name for name in self.lines[0]["strategies"] if name != "no rounds"]

    def of(self, name: str, what: str) -> list[float]:
        """Return one figure a world of one strategy."""
        return [line["strategies"][name][what] for line in self.lines]

    def averted(self, name: str) -> list[float]:
        """Return infested-unit-weeks averted against no rounds, a world."""
        return [b - a for a, b in zip(self.of(name, "weeks"), self.of("no rounds", "weeks"), strict=True)]

    def hours(self, name: str) -> list[float]:
        """Return technician hours at the doors of the rounds."""
        return [minutes / 60 for minutes in self.of(name, "minutes")]

    def per_hour(self, name: str, against: str) -> Interval:
        """Return weeks averted per technician hour of one strategy over those of another."""
        return ratio_of_rates(
            self.averted(name), self.hours(name), self.averted(against), self.hours(against)
        )


def part_of(lines: Sequence[dict], part: str, past: str | None = None) -> tuple[dict, ...]:
    """Return the lines of a part in order of worlds."""
    chosen = [line for line in lines if line["part"] == part and past in (None, line["past"])]
    return tuple(sorted(chosen, key=lambda line: (line["seed"], line["number"])))

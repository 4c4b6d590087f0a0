"""Reading the published figures, and how likely a simulated study makes each."""

from __future__ import annotations

import math
import tomllib
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
PLACE = Path(__file__).with_name("targets.toml")
KINDS = ("count", "building", "mean", "spread", "highest", "log")
USES = ("fitted", "held-out", "listed")
KNOWN = ("R", "R2", "M", "D")
LEAST_P = 0.005  #: A simulated share of 0 or 1 comes from few runs: it is never taken as sure


@dataclass(frozen=True)
class Target:
    """One published figure; the words of each field stand in ``targets.toml``."""

    key: str
    study: str
    what: str
    value: float
    n: int
    kind: str
    infested: str
    building: str
    weeks: int
    known: str
    use: str
    source: str
    read: str
    why: str = ""
    se: float = 0.0

    def __post_init__(self) -> None:
        for name, word, words in (
            ("kind", self.kind, KINDS),
            ("use", self.use, USES),
            ("known", self.known, KNOWN),
        ):
            if word not in words:
                raise ValueError(f"{self.key}: {name} must be one of {words}, found {word!r}")
        if self.use != "fitted" and not self.why:
            raise ValueError(f"{self.key}: a target that is not fitted says why")
        if self.use == "fitted" and self.known == "M":
            raise ValueError(f"{self.key}: what is from memory is not fitted")

    def chance(self, p: Floats) -> Floats:
        """Return simulated shares away from 0 and 1."""
        return np.clip(p, LEAST_P, 1.0 - LEAST_P)

    def logliks(self, mean: Floats, sd: Floats) -> Floats:
        """Return the log likelihood of the published figure at each simulated one.

        ``mean``, ``sd``: of the figure in one simulated study of the published size; ``sd`` is not used for
        counts, whose own luck is binomial.
        """
        if self.kind == "count":
            p, k = self.chance(mean), round(self.value * self.n)
            comb = math.lgamma(self.n + 1) - math.lgamma(k + 1) - math.lgamma(self.n - k + 1)
            return np.asarray(comb + k * np.log(p) + (self.n - k) * np.log1p(-p))
        width = np.sqrt(sd**2 + self.se**2 + 0.005**2)
        return np.asarray(
            -0.5 * ((self._compared() - mean) / width) ** 2 - np.log(width * math.sqrt(2.0 * math.pi))
        )

    def loglik(self, mean: float, sd: float) -> float:
        """Return :meth:`logliks` of one figure."""
        return float(self.logliks(np.array(mean), np.array(sd)))

    def error(self, mean: Floats, sd: Floats) -> Floats:
        """Return the standard error of the figure: of its sample, or of one building's luck."""
        if self.kind == "count":
            p = self.chance(mean)
            return np.asarray(np.sqrt(p * (1.0 - p) / self.n))
        return np.asarray(np.sqrt(sd**2 + self.se**2 + 0.005**2))

    def off(self, mean: float, sd: float) -> float:
        """Return published less simulated in standard errors."""
        at, error = np.array(mean), float(self.error(np.array(mean), np.array(sd)))
        if self.kind == "count":
            return (round(self.value * self.n) / self.n - float(self.chance(at))) / error
        return (self._compared() - mean) / error

    def _compared(self) -> float:
        """Return the published figure on the scale on which it is simulated."""
        return math.log(self.value) if self.kind == "log" else self.value


def load(place: Path = PLACE) -> tuple[Target, ...]:
    """Return all targets in the order of the file."""
    found = tuple(Target(**row) for row in tomllib.loads(place.read_text(encoding="utf-8"))["target"])
    if len({t.key for t in found}) < len(found):
        raise ValueError("two targets have one key")
    return found

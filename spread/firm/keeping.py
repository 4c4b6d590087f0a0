"""A posterior as bytes beside its log, and back: nothing is fitted again to answer for a building.

Arrays are those of numpy's own files, read without pickle; words and settings stand in one line of JSON. No
time of the clock is in it, so that two runs with the same seed write the same bytes.
"""

from __future__ import annotations

import datetime as dt
import io
import json
from dataclasses import asdict, dataclass, replace
from typing import Any, NamedTuple

import numpy as np

from spread.building import Building
from spread.posterior.checks import Check
from spread.posterior.diagnostics import Diagnostics
from spread.posterior.draws import Posterior
from spread.posterior.dynamics import Floats, network_of
from spread.posterior.fit import FitSettings
from spread.posterior.observations import build_evidence
from spread.posterior.rates import FIRST_ROUTE, Blame
from spread.posterior.room import Shared
from spread.posterior.seeing import Names, Traits
from spread.session import dynamics_of

FORMAT = 3
MOST_DRAWS = 2000
"""Joint draws that are kept: their sampling error of a chance, 1 %, is below what anybody acts on."""
_ALONE = ("levels", "weekly", "shedding", "draws", "totals", "rates", "last_rates")


@dataclass(frozen=True)
class Stamp:
    """Where a kept posterior comes from.

    Parameters
    ----------
    mark
        Of the log, plan, settings and priors that it was fitted to, and of the program.
    length
        Of its chains (:func:`length_of`).
    version
        Of the program.
    on, seed, weeks
        Day, seed and window of the fit.
    until
        The day of the first row that was still to come; None where there was none.
    """

    mark: str
    length: str
    version: str
    on: dt.date
    seed: int
    weeks: int
    until: dt.date | None

    @classmethod
    def told(cls, stamp: dict[str, Any]) -> Stamp:
        """Return a stamp from its JSON; raises what Python raises where it is none."""
        until = dt.date.fromisoformat(stamp["until"]) if stamp["until"] else None
        return cls(**(stamp | {"on": dt.date.fromisoformat(stamp["on"]), "until": until}))


def length_of(settings: FitSettings) -> str:
    """Return how long chains are to run, in words that two settings of one length share."""
    told = asdict(settings)
    return " ".join(f"{name}={told[name]}" for name in ("chains", "warmup", "sweeps", "most_sweeps", "learn"))


class Warm(NamedTuple):
    """Where the chains of a kept posterior ended; what a next fit starts from."""

    first_week: int
    ends: tuple[Any, ...]
    last_rates: Floats


@dataclass(frozen=True)
class KeptPosterior:
    """A posterior as it is kept: its stamp, its arrays by name, and the rest."""

    stamp: Stamp
    arrays: dict[str, Any]
    told: dict[str, Any]

    @property
    def units(self) -> tuple[str, ...]:
        """Unit codes in array order."""
        return tuple(self.told["units"])

    @property
    def warm(self) -> Warm:
        """What a next fit starts from."""
        return Warm(self.told["first_week"], tuple(self.arrays["ends"]), self.arrays["last_rates"])

    @property
    def names(self) -> Names | None:
        """Whose odds the traits have."""
        names = self.told["names"]
        return Names(*map(tuple, names)) if names else None

    @property
    def diagnostics(self) -> Diagnostics:
        """Of the fit; it has no times."""
        return Diagnostics(**self.told["diagnostics"])

    @property
    def checks(self) -> tuple[Check, ...]:
        """The log held against what the fit expects of it."""
        return tuple(Check(*one) for one in self.told["checks"])


def thinned(posterior: Posterior, most: int = MOST_DRAWS) -> Posterior:
    """Return a fresh posterior with at most so many joint draws, as many of each chain; sums stay of all."""
    chains = posterior.diagnostics.chains
    long, short = len(posterior.draws) // chains, most // chains
    if long > short:
        of_each = np.linspace(0, long - 1, short).round().astype(np.int64)
        few = (np.arange(chains)[:, None] * long + of_each).ravel()
        traits, shared = posterior.traits, posterior.shared
        posterior = replace(
            posterior,
            draws=np.ascontiguousarray(posterior.draws[few]),
            log_weights=posterior.log_weights[few],
            totals=None if posterior.totals is None else posterior.totals[few],
            rates=None if posterior.rates is None else posterior.rates[few],
            traits=None if traits is None else traits._replace(draws=traits.draws[few]),
            shared=None if shared is None else shared._replace(draws=shared.draws[few]),
        )
    return _anchored(posterior)


def _anchored(posterior: Posterior) -> Posterior:
    """Let later answers of the day move on from these draws."""
    shares = np.stack([(posterior.draws == a).mean(axis=0) for a in range(posterior.levels.shape[1])], axis=1)
    return replace(posterior, anchor=(posterior.levels, shares))


def as_bytes(posterior: Posterior, stamp: Stamp) -> bytes:
    """Return a fresh, thinned posterior as the bytes of a file."""
    arrays = {name: getattr(posterior, name) for name in _ALONE if getattr(posterior, name) is not None}
    arrays["ends"] = np.stack(posterior.ends)
    if posterior.dynamics is not None:
        arrays["theta"] = posterior.dynamics.theta
    if posterior.traits is not None:
        arrays |= {f"traits_{name}": part for name, part in posterior.traits._asdict().items()}
    if posterior.shared is not None:
        arrays |= {f"shared_{name}": part for name, part in posterior.shared._asdict().items()}
    if posterior.blame is not None:
        arrays |= {f"blame_{name}": part for name, part in posterior.blame._asdict().items()}
    quiet = replace(posterior.diagnostics, seconds=0.0, nanoseconds_per_unit_week=0.0)
    told = {
        "format": FORMAT,
        "stamp": asdict(stamp),
        "units": posterior.units,
        "first_week": posterior.first_week,
        "names": posterior.names,
        "diagnostics": asdict(quiet),
        "checks": posterior.checks,
    }
    line = json.dumps(told, default=dt.date.isoformat, separators=(",", ":"), sort_keys=True)
    file = io.BytesIO()
    np.savez_compressed(file, told=np.frombuffer(line.encode(), dtype=np.uint8), **arrays)
    return file.getvalue()


def of_bytes(data: bytes) -> KeptPosterior | None:
    """Return a kept posterior; None where there is none, it is spoilt, or another version wrote it."""
    if not data:
        return None
    try:
        with np.load(io.BytesIO(data), allow_pickle=False) as file:
            arrays = {name: file[name] for name in file.files}
        told = json.loads(arrays.pop("told").tobytes())
        if told["format"] != FORMAT:
            return None
        made = KeptPosterior(Stamp.told(told["stamp"]), arrays, told)
        whole = {*_ALONE, "ends", "theta"} <= arrays.keys() and made.diagnostics and len(made.units)
    except Exception:  # a spoilt file is as good as none: the next fit writes it anew
        return None
    return made if whole else None


def restored(kept: KeptPosterior, building: Building) -> Posterior:
    """Return a building's posterior as its fit left it; what the log says by itself is gathered anew."""
    arrays, stamp = kept.arrays, kept.stamp
    dynamics = dynamics_of(building)
    network = network_of(building.contacts)
    evidence = build_evidence(building.log.current, network.units, dynamics, on=stamp.on, weeks=stamp.weeks)
    theta = arrays["theta"]
    traits = blame = shared = None
    if "traits_draws" in arrays:
        traits = Traits(*(arrays[f"traits_{name}"] for name in Traits._fields))
    if "shared_draws" in arrays:
        shared = Shared(*(arrays[f"shared_{name}"] for name in Shared._fields))
    if "blame_contact" in arrays:
        blame = Blame(*(arrays[f"blame_{name}"] for name in Blame._fields))
    posterior = Posterior(
        units=kept.units,
        on=stamp.on,
        first_week=kept.told["first_week"],
        levels=arrays["levels"],
        weekly=arrays["weekly"],
        shedding=arrays["shedding"],
        draws=arrays["draws"],
        log_weights=np.zeros(len(arrays["draws"])),
        diagnostics=kept.diagnostics,
        seed=stamp.seed,
        ends=tuple(arrays["ends"]),
        last_rates=arrays["last_rates"],
        rates=arrays["rates"],
        traits=traits,
        shared=shared,
        names=kept.names,
        prior=evidence.seeing,
        checks=kept.checks,
        totals=arrays["totals"],
        blame=blame,
        dynamics=replace(
            dynamics,
            brought_in=float(theta[0]),
            mixing=float(theta[1]),
            rates=theta[FIRST_ROUTE:-1],
            move_in=float(theta[-1]),
        ),
        conditions=evidence.now,
    )
    return _anchored(posterior)

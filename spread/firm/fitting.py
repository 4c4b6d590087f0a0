"""One building of many: read, fitted if anything changed, and kept; the task that a worker runs."""

from __future__ import annotations

import datetime as dt
import hashlib
import tempfile
import time
from dataclasses import dataclass, field, replace
from functools import cache
from pathlib import Path

import numpy as np

import spread
from spread.building import Building, load_building
from spread.errors import SpreadError
from spread.firm.keeping import Stamp, as_bytes, length_of, of_bytes, restored, thinned
from spread.firm.persons import persons_in, pools_by_person, shown_by
from spread.firm.places import POSTERIOR_FILE, TAUGHT_FILE, Places, places_at
from spread.firm.pooled import as_text, stamp_of_text, taught_by
from spread.posterior.chains import Ended
from spread.posterior.draws import Posterior
from spread.posterior.dynamics import central_dynamics, network_of
from spread.posterior.fit import FitSettings, fit
from spread.records.lock import hold
from spread.session import Session, dynamics_of, for_log
from spread.trade.experience import POOLED_FILE, experience_of
from spread.trade.methods.looks import BRIEF
from spread.trade.routes import ROUTES

OLDEST = 28
"""Days after which an unchanged building is fitted again: silence says something too (judgement)."""
COMPILING = 600.0
"""Longest time to wait for another process that compiles."""
SOURCES = ("trade", "plan", "contacts", "records", "posterior")
"""Parts of the program of which a posterior is made."""


@dataclass(frozen=True)
class Asked:
    """What a run asks of every building.

    Parameters
    ----------
    on
        The day of the answers.
    program
        :func:`program_mark` of who asks: a worker with another one refuses.
    settings
        Length of the fit; the seed is each building's own. None where any length will do.
    again
        Whether unchanged buildings are fitted too.
    oldest
        Days after which an unchanged building is fitted again.
    """

    on: dt.date
    program: str
    settings: FitSettings | None = field(default_factory=FitSettings)
    again: bool = False
    oldest: int = OLDEST


@dataclass(frozen=True)
class Outcome:
    """What became of one building.

    Parameters
    ----------
    key
        Its key.
    state
        ``fitted``, ``unchanged`` or ``failed``.
    seconds
        Processor time that it took.
    problem
        Why it failed, in one sentence.
    units, weeks, sweeps
        Of the fit, kept sweeps a chain.
    settled
        Whether its chains agree.
    megabytes
        The most memory that the worker has had.
    """

    key: str
    state: str
    seconds: float = 0.0
    problem: str = ""
    units: int = 0
    weeks: int = 0
    sweeps: int = 0
    settled: bool = True
    megabytes: int = 0


@cache
def program_mark() -> str:
    """Return a mark of the parts of the program that make a posterior."""
    mark = hashlib.blake2b(spread.__version__.encode(), digest_size=16)
    home = Path(spread.__file__).parent
    for part in SOURCES:
        for path in sorted((home / part).rglob("*")):
            if path.suffix in (".py", ".toml", ".json"):
                mark.update(f"{path.relative_to(home).as_posix()}\0".encode() + path.read_bytes())
    return mark.hexdigest()


def seed_of(key: str, seed: int) -> int:
    """Return the seed of a building of many: by its key and its own setting, not by any order."""
    return int.from_bytes(hashlib.blake2b(f"{key}\0{seed}".encode(), digest_size=4).digest())


def mark_of(places: Places, key: str, asked: Asked, *, general: bool = False) -> str:
    """Return a mark of everything that a building's posterior depends on but the day.

    ``general``: of a fit under the literature's figures, whatever the firm taught.
    """
    taught = None if general else experience_of(places.own(POOLED_FILE), key)
    believed = sorted(taught.believed.items()) if taught else []
    told = f"{places.mark(key)}\0{asked.program}\0{believed!r}"
    return hashlib.blake2b(told.encode(), digest_size=16).hexdigest()


def is_fresh(stamp: Stamp | None, mark: str, asked: Asked) -> bool:
    """Return whether what is kept still is what a fit would give, but for the days that went by."""
    if stamp is None or asked.again or stamp.mark != mark:
        return False
    if asked.settings is not None and stamp.length != length_of(asked.settings):
        return False
    waited_for = stamp.until is not None and stamp.until <= asked.on
    return not waited_for and 0 <= (asked.on - stamp.on).days < asked.oldest


def fit_one(address: str, key: str, asked: Asked) -> Outcome:
    """Read a building, fit it if anything changed, and keep its posterior and its summary.

    Whatever goes wrong is told in the outcome: one building stops no other.
    """
    began = time.process_time()
    try:
        done = _fit_one(places_at(address), key, asked)
    except SpreadError as error:
        done = Outcome(key, "failed", problem=" ".join(str(error).split()))
    except Exception as error:
        done = Outcome(key, "failed", problem=f"{type(error).__name__}: {str(error)[:200]}")
    return replace(done, seconds=time.process_time() - began, megabytes=_megabytes())


def _fit_one(places: Places, key: str, asked: Asked) -> Outcome:
    if asked.program != program_mark():
        what = "this worker runs another version of the program"
        raise SpreadError.at(key, "", what, "install the same version on every machine")
    # Marks are taken before the building is read: a row that comes in between is fitted twice, not missed.
    mark, general = (mark_of(places, key, asked, general=of_all) for of_all in (False, True))
    kept = of_bytes(places.beside(key, POSTERIOR_FILE))
    fresh = is_fresh(kept.stamp if kept else None, mark, asked)
    taught_text, by_person = places.beside(key, TAUGHT_FILE), pools_by_person(places)
    teaches = is_fresh(stamp_of_text(taught_text), general, asked)
    teaches = teaches and (not by_person or persons_in(taught_text) is not None)
    if fresh and teaches:
        return Outcome(key, "unchanged")
    building = load_building(places.source(key))
    base = replace(
        asked.settings or FitSettings(),
        weeks=building.settings.history_weeks,
        seed=seed_of(key, building.settings.seed),
        workers=1,
    )
    compiled_once()
    warm = kept.warm if kept is not None and kept.units == tuple(building.contacts.nodes) else None
    posterior = None
    if not teaches:
        # What a building teaches must not rest on what others taught: it is fitted as the literature has it.
        alone = replace(building, experience=None)
        posterior = _posterior(alone, asked.on, base, warm)
        taught = taught_by(key, posterior, dynamics_of(alone))
        stamp = _stamp(alone, posterior, general, asked.on, base)
        persons = shown_by(posterior) if by_person else None
        building.store.keep_beside(TAUGHT_FILE, as_text(taught, stamp, persons))
    if not fresh:
        if posterior is None or building.experience is not None:
            posterior = _posterior(building, asked.on, base, warm)
        stamp = _stamp(building, posterior, mark, asked.on, base)
        Session(building, posterior, base).keep_summary()
        building.store.keep_beside(POSTERIOR_FILE, as_bytes(posterior, stamp))  # last: all is done
    assert posterior is not None
    told = posterior.diagnostics
    units, weeks = len(posterior.units), posterior.weekly.shape[1]
    return Outcome(key, "fitted", units=units, weeks=weeks, sweeps=told.sweeps, settled=told.good)


def _posterior(building: Building, on: dt.date, base: FitSettings, warm: Ended | None) -> Posterior:
    network, log = network_of(building.contacts), building.log
    settings = for_log(base, log, on)
    return thinned(fit(network, log.current, dynamics_of(building), on=on, settings=settings, warm=warm))


def _stamp(building: Building, posterior: Posterior, mark: str, on: dt.date, base: FitSettings) -> Stamp:
    return Stamp(
        mark=mark,
        length=length_of(base),
        version=spread.__version__,
        on=on,
        seed=base.seed,
        weeks=posterior.weekly.shape[1],
        until=min((row.when for row in building.log.current if row.when > on), default=None),
    )


def session_of(places: Places, key: str, asked: Asked) -> tuple[Session, bool]:
    """Open a building on its kept posterior; return it, and whether that is what a fit would give.

    Raises SpreadError where nothing is kept of it or its plan has other units since.
    """
    kept = of_bytes(places.beside(key, POSTERIOR_FILE))
    building = load_building(places.source(key))
    if kept is None or kept.units != tuple(building.contacts.nodes):
        what = "nothing is kept of it as it stands"
        raise SpreadError.at(key, "", what, "fit it: spread portfolio fit")
    session = Session(building, restored(kept, building), _settings_of(building, asked))
    return session, is_fresh(kept.stamp, mark_of(places, key, asked), asked)


def _settings_of(building: Building, asked: Asked) -> FitSettings:
    return replace(
        asked.settings or FitSettings(), weeks=building.settings.history_weeks, seed=building.settings.seed
    )


@cache
def compiled_once() -> bool:
    """Load the compiled sampler; return True. Where it is not compiled yet, one process of a machine does it.

    The others wait for their turn and then load what it has compiled.
    """
    mark = hashlib.blake2b(str(Path(spread.__file__).parent).encode(), digest_size=6).hexdigest()
    lock = Path(tempfile.gettempdir()) / f"spread-compiling-{mark}.lock"
    try:
        with hold(lock, COMPILING):
            _smallest_fit()
    except OSError:  # no such folder of ours, or nobody came to an end: compile here
        _smallest_fit()
    return True


def _smallest_fit() -> None:
    """Fit a building of two units for some weeks: every compiled function of a fit is called once."""
    from spread.posterior.dynamics import Network  # noqa: PLC0415
    from spread.records.kinds import Record  # noqa: PLC0415

    exposure = np.zeros((2, len(ROUTES)))
    exposure[:, 0] = 1.0
    network = Network(("1", "2"), np.array([0, 1, 2]), np.array([1, 0]), exposure)
    day = dt.date(2026, 1, 30)
    rows = (
        Record("r1", day - dt.timedelta(days=14), "1", "inspection", BRIEF.key, found="yes", level="low"),
    )
    settings = FitSettings(weeks=6, chains=1, warmup=1, sweeps=2, most_sweeps=2, workers=1)
    fit(network, rows, central_dynamics(), on=day, settings=settings)


def _megabytes() -> int:
    try:
        import resource  # noqa: PLC0415 - not on every system
    except ImportError:
        return 0
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024

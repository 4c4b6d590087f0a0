"""A building opened for work: plan, log and posterior, and the one place that records an answer."""

from __future__ import annotations

import datetime as dt
import threading
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path

import networkx as nx

from spread.building import LOG_FILE, Building, load_building
from spread.decisions.doors.learned import Learned, what_was_learned
from spread.decisions.doors.ranking import DoorDuty, DoorRow, open_looks, rank_doors
from spread.decisions.doors.why import Why, explain
from spread.decisions.grades.grades import Grades, grades_of, off_promise
from spread.decisions.grades.promising import promise_of
from spread.decisions.kept import Kept, KeptBefore, KeptForLater, what_it_did
from spread.decisions.month.month import Month, month_of
from spread.decisions.month.summary import summary_of
from spread.decisions.past import Past, past_of
from spread.decisions.round.parts import Barred
from spread.decisions.trust import Warned, warnings_of
from spread.decisions.view import View
from spread.decisions.week.entry import Entry, entries_of
from spread.errors import RecordError, SpreadError, told
from spread.plan.model import Plan
from spread.posterior.draws import Posterior
from spread.posterior.dynamics import Dynamics, central_dynamics, network_of
from spread.posterior.fit import FitSettings, fit
from spread.posterior.looks import last_looks
from spread.records import Log, by_hand, new_id, record_from_fields
from spread.records.following import Home
from spread.records.kinds import FIELDS, Record
from spread.records.repeats import repeats
from spread.records.sense import guess
from spread.records.summaries import (
    Summary,
    file_of,
    summary_of_text,
    text_of_summary,
    with_earlier,
)
from spread.trade.rules import RuleSet, load_rules
from spread.weeks import week_of

Progress = Callable[[float], None]


@dataclass(frozen=True, slots=True)
class Answer:
    """What recording a door did: the row kept, whether it was new, and what it changed."""

    record: Record
    new: bool
    told: Kept | KeptBefore | KeptForLater


LEAD = 28
"""Weeks of history before the first row of a log, some half a year (judgement, no source)."""


class Session:
    """A building on a day, safe to use from several threads.

    Make one with :meth:`open`. A recorded row is on the disk before anything else happens; it
    then reweights the joint draws at once, and a refit follows in the background when the
    draws are worn out.

    A session opened without a day is ``live``: its rows are for today, also when it has been left
    open overnight.
    """

    def __init__(
        self, building: Building, posterior: Posterior, settings: FitSettings, *, live: bool = False
    ) -> None:
        self.building = building
        self.live = live
        self.method = building.settings.method
        self.fit_settings = settings
        self._prior = dynamics_of(building)
        self._network = network_of(building.contacts)
        self._lock = threading.RLock()
        self._refit: threading.Thread | None = None
        self._version = 0
        self._log = building.log
        self._view = self._make_view(posterior)
        self._doors: dict[tuple[str, str], tuple[DoorRow, ...]] = {}
        self._looks: dict[str, DoorDuty] | None = None
        self._entries: dict[str, Entry] | None = None
        self._rules = load_rules(building.settings.rules, building.folder, building.settings.holidays)
        self._promised: set[str] = set()
        self._can_keep = True
        self._grades: tuple[object, Grades] | None = None

    @classmethod
    def open(
        cls,
        folder: str | Path,
        *,
        on: dt.date | None = None,
        seed: int | None = None,
        settings: FitSettings | None = None,
        progress: Progress | None = None,
    ) -> Session:
        """Read a building's folder and fit its log.

        ``on``: the day the answers are for; today if None. ``seed``: seed of the sampler; the building's own
        if None. ``settings``: length of the fit; the building's history window is used whatever it says.
        ``progress``: called with the share of the fit that is done, 0 to 1. Raises SpreadError with every
        problem of the first file that has any.
        """
        return cls.of(load_building(folder), on=on, seed=seed, settings=settings, progress=progress)

    @classmethod
    def of(
        cls,
        building: Building,
        *,
        on: dt.date | None = None,
        seed: int | None = None,
        settings: FitSettings | None = None,
        progress: Progress | None = None,
    ) -> Session:
        """Fit the log of a building that was read; see :meth:`open`."""
        base = settings or FitSettings()
        base = replace(
            base, weeks=building.settings.history_weeks, seed=building.settings.seed if seed is None else seed
        )
        day = on or dt.date.today()
        posterior = fit(
            network_of(building.contacts),
            building.log.current,
            dynamics_of(building),
            on=day,
            settings=for_log(base, building.log, day),
            progress=progress,
        )
        session = cls(building, posterior, base, live=on is None)
        session.keep_summary()
        return session

    @property
    def plan(self) -> Plan:
        """The building's plan."""
        return self.building.plan

    @property
    def contacts(self) -> nx.MultiGraph:
        """The contact graph."""
        return self.building.contacts

    @property
    def on(self) -> dt.date:
        """The day the answers are for."""
        return self._view.on

    @property
    def today(self) -> dt.date:
        """The day that a row without one is for: :attr:`on`, or today in a live session left open."""
        return max(self.on, dt.date.today()) if self.live else self.on

    @property
    def version(self) -> int:
        """A number that grows with every record and refit."""
        return self._version

    @property
    def busy(self) -> bool:
        """Whether a refit is running in the background."""
        thread = self._refit
        return thread is not None and thread.is_alive()

    @property
    def view(self) -> View:
        """Everything known now; never changes once taken."""
        return self._view

    @property
    def rules(self) -> RuleSet:
        """The building's rule set, with the days off of its settings."""
        return self._rules

    @property
    def order(self) -> str:
        """How the doors of this building are ranked, a word of :data:`spread.settings.ORDERS`."""
        return self.building.settings.order

    def chances(self) -> dict[str, float]:
        """Return the chance of infestation now, by unit."""
        posterior = self._view.posterior
        return dict(zip(posterior.units, map(float, posterior.chance), strict=True))

    def doors(self, method: str | None = None, order: str | None = None) -> tuple[DoorRow, ...]:
        """Return all units: first those to look at by rank, then treat, then revisit.

        ``method``: how the technician will look; :attr:`method` if None. ``order``: a word of
        :data:`spread.settings.ORDERS`; the building's own if None.
        """
        key = (method or self.method, order or self.order)
        with self._lock:
            if key not in self._doors:
                self._doors[key] = rank_doors(
                    self._view,
                    key[0],
                    pace=self.building.settings.pace,
                    looks=self.open_looks(),
                    order=key[1],
                )
            return self._doors[key]

    def open_looks(self) -> dict[str, DoorDuty]:
        """Return the looks that the building's rule set asks for and nobody has done, by unit."""
        with self._lock:
            if self._looks is None:
                self._looks = open_looks(self._view, self._rules)
            return self._looks

    def entries(self) -> dict[str, Entry]:
        """Return when each unit may lawfully be entered, by the rule set and the notices on record."""
        with self._lock:
            if self._entries is None:
                self._entries = entries_of(self._view, self._rules)
            return self._entries

    def barred(self) -> dict[str, Barred]:
        """Return the units that may not be entered today: their notice has not run, or entry was refused."""
        entries = self.entries()
        return {
            unit: Barred(one.state, one.first) for unit, one in entries.items() if not one.lawful_on(self.on)
        }

    @property
    def moved(self) -> dict[str, dt.date]:
        """The days to come on which somebody put units, here or at another server of the building."""
        try:
            return self._moves()
        except (SpreadError, OSError):  # not to be read this moment: the week is planned without
            return {}

    def _moves(self) -> dict[str, dt.date]:
        kept = by_hand.moves_of_text(self.building.store.beside(by_hand.file_of(LOG_FILE)))
        return {unit: day for unit, day in kept.items() if day >= self.on}

    def move(self, unit: str, day: dt.date | None) -> None:
        """Put a unit on a day of the week, or leave it to the plan again (None), and keep that.

        Raises SpreadError where it cannot be kept; the plan is then as it was.
        """
        with self._lock:
            moves = self._moves()
            moves.pop(unit, None)
            if day is not None:
                moves[unit] = day
            self.building.store.keep_beside(by_hand.file_of(LOG_FILE), by_hand.text_of_moves(moves))
            self._version += 1

    def why(self, unit: str) -> Why:
        """Explain one unit.

        Raises SpreadError if the building has no such unit.
        """
        if unit not in self._network.index:
            known = unit in self.building.codes
            now = [home.unit for home in self.building.homes.of(unit, self.on)] if known else []
            fix = f"it is {' and '.join(map(repr, now))} now" if now else ""
            fix = fix or guess(unit, self._network.units, "use a unit code of the plan")
            raise SpreadError.at(self.building.name, "", f"there is no unit {unit[:40]!r}", fix)
        return explain(self._view, unit, self.method)

    def learned(self) -> Learned | None:
        """Return what the log taught about the building's rates; None if the fit learned none."""
        return what_was_learned(self._view)

    def warnings(self) -> tuple[Warned, ...]:
        """Return where the log contradicts the model or its lists; empty where it does not."""
        off = off_promise(self.grades())
        return (*warnings_of(self._view.posterior), *([off] if off else []))

    def promise(self, made_by: str, doors: Iterable[DoorRow], method: str | None = None) -> None:
        """Keep what a list promises, once for the same facts of a day; :meth:`grades` holds it to that.

        A list is never refused because it cannot be kept: :meth:`grades` tells.

        ``made_by``: the screen or command that shows it. ``doors``: rows of :meth:`doors` in its order.
        """
        promise = promise_of(self._view, method or self.method, doors, made_by)
        if promise.id in self._promised or not promise.rows:
            return
        try:
            self.building.store.promises.keep(promise)
        except RecordError:
            self._can_keep = False
        else:
            self._can_keep = True
            self._promised.add(promise.id)

    def grades(self) -> Grades:
        """Return how good the building's lists were so far."""
        # By the codes of the day: a list and what was found are both told by them.
        promises, log, on = self.building.store.promises, self.building.store.log, self.on
        key = (len(promises.all()), promises.broken, promises.can_keep, self._can_keep, log, on)
        kept = self._grades
        if kept is None or kept[0] != key:
            kept = self._grades = key, grades_of(promises, log, on, can_keep=self._can_keep)
        return kept[1]

    def past(self) -> Past | None:
        """Return the building's past through the weeks; None if the fit kept none."""
        return past_of(self._view)

    def month(self, since: dt.date, until: dt.date) -> Month:
        """Return the building between two days, by what is known now.

        Raises SettingsError where they are no period of the past.
        """
        kept = self.summary()
        return month_of(self._view, self.building.store.promises, kept.said if kept else (), since, until)

    def summary(self) -> Summary | None:
        """Return what the last fit said of the building, as it is kept; None where nothing is."""
        try:
            return summary_of_text(self.building.store.beside(file_of(LOG_FILE)))
        except SpreadError:
            return None

    def keep_summary(self) -> bool:
        """Keep the short of what is known now, for whoever asks without a fit; return whether it could be."""
        kept = self.summary()
        new = with_earlier(summary_of(self._view, self._rules, self.doors()), kept)
        try:
            if new != kept:
                self.building.store.keep_beside(file_of(LOG_FILE), text_of_summary(new))
        except (SpreadError, OSError):
            return False
        return True

    def record(self, fields: Mapping[str, str], *, keep_day: bool = False) -> Answer:
        """Check, keep and apply one row of the log.

        ``fields``: columns of ``records.csv``; missing ones are empty. Without ``when`` the row is for the
        session's day (:attr:`today`); without ``id`` a new one is made. A client that may send twice gives
        the ``id`` itself, and the second time changes nothing. Raises RecordError with every problem of the
        row; nothing is kept then. A row dated later than both the session's day and today is refused as a
        slip of the keyboard. ``keep_day``: whether a row of a later day than :attr:`today` leaves the
        session's day as it is and counts from its own day on, as in a live session; for a server, whose day
        belongs to everybody.
        """
        row = {name: str(fields.get(name, "") or "") for name in FIELDS}
        row.update({name: value for name, value in fields.items() if name not in row})
        row["id"] = row["id"] or new_id()
        row["when"] = row["when"] or self.today.isoformat()
        latest = max(self.on, dt.date.today())
        building = self.building
        corrected = building.store.log.by_id.get(row["supersedes"].strip())
        if corrected is not None and row["unit"] in {
            h.unit for h in building.homes.of(corrected.unit, corrected.when)
        }:
            row["unit"] = corrected.unit  # a row of a home that has changed is corrected under its own code
        record = record_from_fields(row, building.codes, file=LOG_FILE, where=told("new row"), today=latest)
        if corrected is not None and corrected.unit != record.unit:
            units = {"row": corrected.id, "was": corrected.unit, "unit": record.unit}
            what = told("it corrects row {row}, which is of {was}, but is of {unit}", **units)
            fix = told("take the row back under {was}, and record {unit} anew", **units)
            where = told(
                "{where}, {field}", where=told("new row"), field=told("field {name}", name="supersedes")
            )
            raise RecordError.at(LOG_FILE, where, what, fix)
        homes = building.homes.of(record.unit, record.when)
        if not homes:
            what = told(
                "unit {unit} is gone from the plan, so that the row would speak of no home", unit=record.unit
            )
            raise RecordError.at(LOG_FILE, told("new row"), what, told("name a unit of today"))
        with self._lock:
            before = self.chances()
            if not self.building.store.append(record):
                self._take_in()
                return Answer(record, False, KeptBefore())
            if homes != (Home(record.unit),):
                self._take_in()  # told by a code that means another home today: all of it is weighed anew
                done = what_it_did(
                    replace(record, unit=homes[0].unit), before, self.chances(), refitting=self.busy
                )
                return Answer(record, True, done)
            if (self.live or keep_day) and record.when > self.today:
                # A phone whose clock runs ahead moves nobody's day: the row counts from its own day on.
                self._log = self.building.log
                self._show(self._view.posterior)
                return Answer(record, True, KeptForLater(record.when))
            self._apply(record, self.building.log)
            return Answer(record, True, what_it_did(record, before, self.chances(), refitting=self.busy))

    def refresh(self) -> bool:
        """Take in what other programs have recorded; return whether anything changed.

        Cheap where nothing has, so that a server may ask every second. Where the log's file has lost rows
        that were known, work goes on with them and ``building.store.trouble`` tells.
        """
        told = self.building.store.refresh()
        with self._lock:
            taken = self._take_in()
            self._version += told and not taken
        return told or taken

    def wait(self) -> None:
        """Wait for a running refit to end."""
        while (thread := self._refit) is not None and thread.is_alive():
            thread.join()

    def _take_in(self) -> bool:
        """Fit again where the store holds another log than the one that the chances rest on."""
        if self.building.log == self._log:
            return False
        self._log = self.building.log
        self._show(replace(self._view.posterior, late=True))
        self._fit_when_needed()
        return True

    def _apply(self, record: Record, log: Log) -> None:
        before, others = self._view.on, len(log) - len(self._log) != 1
        earlier = self._log.of(record.unit)
        self._log = log
        posterior = self._view.posterior.update(
            record,
            self._network,
            self._view.dynamics,
            reported_already=any(r.is_complaint and week_of(r.when) == week_of(record.when) for r in earlier),
            treated_before=any(r.kind == "treatment" and r.when < record.when for r in earlier),
            last=last_looks([*earlier, record]).get(record.id),
        )
        # The draws have taken in this row alone. Rows that another program added, rows that were
        # still to come until the day moved on, and a new week in the window need a refit.
        due = posterior.on > before and any(before < row.when <= posterior.on for row in log.rows)
        older = week_of(record.when) < posterior.first_week
        again = record.id in repeats([*earlier, record])
        if again or older or others or due or week_of(posterior.on) != week_of(before):
            posterior = replace(posterior, late=True)
        self._show(posterior)
        self._fit_when_needed()

    def _fit_when_needed(self) -> None:
        if self._view.posterior.needs_refit and not self.busy:
            self._refit = threading.Thread(target=self._fit_again, daemon=True)
            self._refit.start()

    def _fit_again(self) -> None:
        """Refit from a warm start; again if something was recorded meanwhile."""
        while True:
            with self._lock:
                version, log, posterior = self._version, self._log, self._view.posterior
            fitted = fit(
                self._network,
                log.current,
                self._prior,
                on=posterior.on,
                settings=for_log(self.fit_settings, log, posterior.on),
                warm=posterior,
            )
            with self._lock:
                if version == self._version:
                    self._show(fitted)
                    self._refit = None
                    break
        self.keep_summary()

    def _show(self, posterior: Posterior) -> None:
        self._view = self._make_view(posterior)
        self._doors = {}
        self._looks = self._entries = None
        self._version += 1

    def _make_view(self, posterior: Posterior) -> View:
        settings = self.building.settings
        return View(
            graph=self.contacts,
            network=self._network,
            dynamics=posterior.dynamics or self._prior,
            log=self._log,
            posterior=posterior,
            ring=settings.ring,
            across=settings.across,
            clearance=settings.clearance,
            week_costs=settings.week_costs,
        )


def history_weeks(log: Log, on: dt.date, most: int) -> int:
    """Return how many weeks the history of a log has: from :data:`LEAD` weeks before its first row.

    The share infested at the beginning is known roughly; what would have become of it in years that nobody
    wrote down is not, and a new building would seem to be full of bugs.

    ``log``: all rows. ``on``: the day the answers are for. ``most``: weeks of the building's setting.
    """
    first = min((row.when for row in log.current if row.when <= on), default=on)
    return min(most, week_of(on) - week_of(first) + LEAD)


def for_log(settings: FitSettings, log: Log, on: dt.date) -> FitSettings:
    """Return settings with the window that a log asks for, at most theirs."""
    return replace(settings, weeks=history_weeks(log, on, settings.weeks))


def dynamics_of(building: Building) -> Dynamics:
    """Return the rates and priors that a building's settings ask for."""
    settings = building.settings
    return central_dynamics(prevalence=settings.prevalence, experience=building.experience)

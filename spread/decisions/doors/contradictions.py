"""Records of one unit that do not go together: named, so that somebody can look at them again.

Nothing is thrown away for it: the model weighs every record. But a slip of the keyboard, a wrong unit
or a visit nobody wrote down shows itself here first.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from spread.decisions.standing import is_find
from spread.decisions.words import number_words
from spread.records.kinds import Record
from spread.records.log import Log
from spread.records.words import METHOD_WORDS
from spread.trade import detection
from spread.trade.biology import LEVEL_NAMES
from spread.trade.registry import HEARSAY, LOOKING, UNCONFIRMED
from spread.weeks import speak_date

WEEK = dt.timedelta(days=7)
FORTNIGHT = dt.timedelta(days=14)
UNLIKELY = 0.10
"""Clear looks contradict a find beside them when looks like these would all miss such an infestation
with at most this chance (judgement)."""


@dataclass(frozen=True, slots=True)
class Doubt:
    """Records of one unit that do not go together.

    Parameters
    ----------
    unit
        Unit code.
    kind
        ``clear-and-find``, ``find-then-clear``, ``report-while-empty``, ``treated-unfound`` or
        ``monitor-over-treatment``.
    words
        What does not go together, as a sentence without the unit's code.
    dates
        Days of the records, ISO, oldest first.
    rows
        Ids of the records, in the same order.
    """

    unit: str
    kind: str
    words: str
    dates: tuple[str, ...]
    rows: tuple[str, ...]


def doubts_of(log: Log, units: Sequence[str], on: dt.date | None = None) -> tuple[Doubt, ...]:
    """Return what does not go together in every unit, in the order of the units.

    Parameters
    ----------
    log
        The whole log; corrected rows are left out.
    units
        Unit codes.
    on
        Later records are left out; None for all.
    """
    return tuple(doubt for unit in units for doubt in doubts_in(log.of(unit), on))


def doubts_in(records: Sequence[Record], on: dt.date | None = None) -> tuple[Doubt, ...]:
    """Return what does not go together in the current records of one unit, newest first."""
    rows = sorted((r for r in records if on is None or r.when <= on), key=lambda r: (r.when, r.id))
    doubts = [doubt for search in _SEARCHES for doubt in search(rows)]
    told: set[tuple[str, ...]] = set()
    kept = []
    for doubt in doubts:
        # A clear look soon after a find may break two rules; it is told once, by the first.
        if not any(set(doubt.rows) <= set(other) for other in told):
            told.add(doubt.rows)
            kept.append(doubt)
    return tuple(sorted(kept, key=lambda doubt: doubt.dates[-1], reverse=True))


def _clear_and_find(rows: Sequence[Record]) -> Iterator[Doubt]:
    """Find clear looks within a week of a find that looks like these would hardly all have missed."""
    for find in filter(is_find, rows):
        level = LEVEL_NAMES.index(find.level or "low")
        clear = [
            row
            for row in rows
            if _is_clear(row) and abs(row.when - find.when) <= WEEK and not _treated(rows, row, find)
        ]
        missed = 1.0
        for row in clear:
            missed *= 1.0 - float(detection.sensitivity(row.method, row.days)[level])
        if clear and missed <= UNLIKELY:
            looks = f"{number_words(len(clear))} clear look{'s' if len(clear) > 1 else ''}"
            what = f"a {find.level} find" if find.level else "a find"
            often = f"a {find.level or 'low'} infestation is missed like that {_one_in(missed)}"
            yield _doubt("clear-and-find", [*clear, find], f"{looks} and {what} within a week", f"{often}")


def _find_then_clear(rows: Sequence[Record]) -> Iterator[Doubt]:
    """Find a thorough look's find with a clear look within a fortnight and no treatment between."""
    for find in rows:
        if not is_find(find) or not LOOKING[find.method].thorough:
            continue
        after = [
            row
            for row in rows
            if _is_clear(row)
            and row.method not in UNCONFIRMED
            and find.when < row.when <= find.when + FORTNIGHT
            and not _treated(rows, row, find)
        ]
        if after:
            days = (after[0].when - find.when).days
            yield _doubt(
                "find-then-clear",
                [find, after[0]],
                f"a find by a thorough look and a clear look {days} day{'s' if days > 1 else ''} later "
                "with no treatment between",
                "bugs do not leave by themselves so soon",
            )


def _report_while_empty(rows: Sequence[Record]) -> Iterator[Doubt]:
    """Find reports from a unit where nobody lives."""
    out: Record | None = None
    for row in rows:
        if row.kind == "turnover":
            out = row if row.method == "moved-out" else None
        elif out is not None and row.is_complaint and row.when > out.when:
            yield _doubt(
                "report-while-empty",
                [out, row],
                "a report from a unit that stands empty by the log",
                "a move-in may be missing, or the report belongs to another unit",
            )


def _treated_unfound(rows: Sequence[Record]) -> Iterator[Doubt]:
    """Find the first treatment of a unit where nothing was found before."""
    treated = next((row for row in rows if row.kind == "treatment"), None)
    if treated is not None and not any(is_find(row) and row.when <= treated.when for row in rows):
        yield _doubt(
            "treated-unfound",
            [treated],
            "a treatment of a unit where no find is on record",
            "it may be a precaution, or the find was not written down",
        )


def _monitor_over_treatment(rows: Sequence[Record]) -> Iterator[Doubt]:
    """Find monitor periods that a treatment falls into."""
    for monitor in rows:
        if monitor.kind != "monitor":
            continue
        for row in rows:
            if row.kind == "treatment" and monitor.began < row.when < monitor.when:
                yield _doubt(
                    "monitor-over-treatment",
                    [row, monitor],
                    f"monitors that stood from {speak_date(monitor.began)} across a treatment",
                    "what they caught tells neither of before nor of after",
                )


_SEARCHES: tuple[Callable[[Sequence[Record]], Iterator[Doubt]], ...] = (
    _clear_and_find,
    _find_then_clear,
    _report_while_empty,
    _treated_unfound,
    _monitor_over_treatment,
)


def _is_clear(row: Record) -> bool:
    return row.is_look and row.found == "no" and row.method not in HEARSAY


def _treated(rows: Sequence[Record], one: Record, other: Record) -> bool:
    """Return whether a treatment lies between two records (their days included)."""
    first, last = sorted((one.when, other.when))
    return any(row.kind == "treatment" and first <= row.when <= last for row in rows)


def _one_in(chance: float) -> str:
    times = round(1.0 / max(chance, 1e-4))
    return f"about one time in {number_words(times)}" if chance >= 1e-3 else "less than one time in 1000"


def _doubt(kind: str, rows: Sequence[Record], what: str, meaning: str) -> Doubt:
    """Return a doubt whose words name what was recorded when."""
    ordered = sorted(rows, key=lambda row: (row.when, row.id))
    when = "; ".join(_short(row) for row in ordered)
    return Doubt(
        unit=ordered[0].unit,
        kind=kind,
        words=f"{what[0].upper()}{what[1:]} ({when}): {meaning}.",
        dates=tuple(row.when.isoformat() for row in ordered),
        rows=tuple(row.id for row in ordered),
    )


def _short(row: Record) -> str:
    """Return what a record is and its day."""
    name = METHOD_WORDS[row.method].lower() if row.is_look or row.kind == "turnover" else row.kind
    said = {"no": ", nothing found", "yes": ", found"}.get(row.found, "") if row.is_look else ""
    return f"{name} {speak_date(row.when)}{said}"

"""Logs of temperature as loggers write them: time stamps, a column a probe, C or F, any usual separator.

What is not known is asked and never guessed: a scale that stands nowhere, a clock that jumps. A cell that is
no number is refused, since a probe that failed for a moment is what a credit must not rest on.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

from spread.errors import Problem, RecordError
from spread.records.probes import Readings, parse_probes, wrong_reading
from spread.tables.grid import Grid, is_binary, read_grid
from spread.trade.credit import celsius_of

HOUR = dt.timedelta(hours=1)
MOST_PROBLEMS = 20
CHANGED_BY = 4  #: Hour of the day before which clocks are put on or back

_FORMATS = tuple(
    f"{day} {time}"
    for day in (
        "%m/%d/%Y",
        "%d/%m/%Y",
        "%m/%d/%y",
        "%d/%m/%y",
        "%d.%m.%Y",
        "%d.%m.%y",
        "%Y/%m/%d",
        "%d-%m-%Y",
    )
    for time in ("%H:%M:%S", "%H:%M", "%I:%M:%S %p", "%I:%M %p", "%H:%M:%S.%f")
)
_TIMES = ("%H:%M:%S", "%H:%M", "%I:%M:%S %p", "%I:%M %p")
_NUMBER = re.compile(r"([-+]?\d+(?:[.,]\d+)?)\s*(?:(?:°|deg\.?)?\s*([CF]))?", re.IGNORECASE)
_SCALE = re.compile(
    r"°\s*([CF])\b|\b(celsius|fahrenheit)\b|\bdeg\.?\s*([CF])\b|[(\[,]\s*([CF])\s*[)\]]?\s*$", re.IGNORECASE
)
_EMPTY = re.compile(r"[(\[]\s*[)\]]")
_OTHER = re.compile(
    r"%|\b(rh|humid\w*|dew|batt\w*|volts?|signal|rssi|lux|co2|sample|record|no|nr|index)\b", re.IGNORECASE
)


@dataclass(frozen=True)
class ProbeLog:
    """What was read: readings (minute, degrees C) by probe, and the columns that are no temperatures."""

    readings: Readings
    left_out: tuple[str, ...] = ()


@dataclass(frozen=True)
class _Column:
    place: int
    name: str
    scale: str  #: C, F, or empty where its heading does not say


def read_probe_log(path: Path, *, scale: str = "", clock_changed: bool = False) -> ProbeLog:
    """Read the log of temperature probes, in our own form or as a logger wrote it.

    Parameters
    ----------
    path
        Text with a separator. Our own form is that of :func:`spread.records.probes.parse_probes`. Otherwise
        rows of a time stamp (one column, or a day and a time beside each other) and a column a probe, below
        a heading; what stands above the heading is passed over.
    scale
        ``C`` or ``F`` where neither headings nor cells say it.
    clock_changed
        Whether clocks were put on or back by an hour during the job.

    Raises
    ------
    RecordError
        With the row and field of everything that cannot be read.
    """
    try:
        data = path.read_bytes()
    except OSError as reason:
        why = (reason.strerror or "unknown reason").lower()
        raise RecordError(
            Problem(path.name, "", f"it cannot be read ({why})", "check its name and place")
        ) from None
    return parse_probe_log(data, path.name, scale=scale, clock_changed=clock_changed)


def parse_probe_log(data: bytes, name: str, *, scale: str = "", clock_changed: bool = False) -> ProbeLog:
    """Read a log from the bytes of its file (see :func:`read_probe_log`)."""
    if is_binary(data):
        raise RecordError(Problem(name, "", "it is a workbook", "save it as CSV, with the times"))
    first = data.removeprefix(b"\xef\xbb\xbf").split(b"\n", 1)[0].decode("latin-1").casefold()
    if {"probe", "minute"} & {cell.strip() for cell in first.split(",")}:
        try:
            text = data.decode("utf-8-sig")
        except UnicodeDecodeError:
            raise RecordError(Problem(name, "", "it is not text in UTF-8", "save it as CSV")) from None
        return ProbeLog(parse_probes(text, name))
    return _read(read_grid(data, name), scale, clock_changed)


def _read(grid: Grid, scale: str, clock_changed: bool) -> ProbeLog:
    begins, column, split = _times_in(grid)
    rows = [(number, cells) for number, cells in grid.rows[begins:] if any(cells[column : column + 1])]
    stamps = _stamps(grid.file, [(number, _stamp(cells, column, split)) for number, cells in rows])
    minutes = _minutes(grid.file, [number for number, _ in rows], stamps, clock_changed)
    head = grid.rows[begins - 1][1] if begins else ()
    columns, left_out = _columns(head, [cells for _, cells in rows], column + (2 if split else 1))
    if not columns:
        fix = "head each probe's column with the place where it lay"
        raise RecordError(Problem(grid.file, f"row {rows[0][0]}", "no column of it has temperatures", fix))
    names = [one.name for one in columns]
    if twice := next((one for one in names if names.count(one) > 1), ""):
        what = f"two columns are headed {twice[:40]!r}"
        raise RecordError(Problem(grid.file, f"row {grid.rows[begins - 1][0]}", what, "give each its place"))
    problems: list[Problem] = []
    readings: Readings = {}
    for (number, cells), minute in zip(rows, minutes, strict=True):
        for one in columns:
            text = cells[one.place] if one.place < len(cells) else ""
            if not text:
                continue
            where = f"row {number}, column {one.name[:40]!r}"
            found = _celsius(text, one.scale or scale)
            if isinstance(found, float):
                readings.setdefault(one.name, []).append((minute, found))
            elif len(problems) < MOST_PROBLEMS:
                problems.append(Problem(grid.file, where, *found))
    if problems:
        raise RecordError(problems)
    return ProbeLog(readings, left_out)


def _celsius(text: str, scale: str) -> float | tuple[str, str]:
    """Return a cell in degrees C, or what is wrong with it and what to do."""
    found = _NUMBER.fullmatch(text)
    if found is None:
        return f"{text[:40]!r} is no temperature", "leave the cell empty where the probe read nothing"
    said = (found[2] or scale).upper()
    if not said:
        return "nothing says whether it is in C or F", "add --scale C or --scale F"
    if found[2] and scale and found[2].upper() != scale.upper():
        return f"{text[:40]!r} is not in {scale}, as was said", "say of each column one scale"
    shown = float(found[1].replace(",", "."))
    celsius = shown if said == "C" else celsius_of(shown)
    return wrong_reading(shown, celsius) or celsius


def _times_in(grid: Grid) -> tuple[int, int, bool]:
    """Return the first row with a time stamp, its column, and whether day and time stand in two."""
    for at, (_, cells) in enumerate(grid.rows):
        for place in range(min(len(cells), 4)):
            numbers = any(_NUMBER.fullmatch(cell) for cell in cells[place + 1 :])
            if numbers and any(_parsers(cells[place])):
                return at, place, False
            if place + 1 < len(cells) and any(_parsers(f"{cells[place]} {cells[place + 1]}")):
                return at, place, True
    fix = "begin with the header probe,minute,celsius, or have rows of a time stamp and a column a probe"
    raise RecordError(Problem(grid.file, "", "no row of it has a time stamp and a temperature", fix))


def _stamp(cells: Sequence[str], column: int, split: bool) -> str:
    return " ".join(cells[column : column + 2]) if split else cells[column]


def _parsers(text: str) -> Iterator[Callable[[str], dt.datetime]]:
    """Yield the ways in which a text can be read as a point in time."""
    for parse in (dt.datetime.fromisoformat, *map(_by, _FORMATS), *map(_by, _TIMES)):
        try:
            found = parse(text)
        except ValueError:
            continue
        if re.search(r"\d:\d", text) and found:
            yield parse


def _by(form: str) -> Callable[[str], dt.datetime]:
    def parse(text: str) -> dt.datetime:
        return dt.datetime.strptime(text.upper().replace("A.M.", "AM").replace("P.M.", "PM"), form)

    return parse


def _stamps(file: str, rows: Sequence[tuple[int, str]]) -> list[dt.datetime]:
    """Return the points in time, by the one way of reading that fits all rows and makes the job shortest."""
    best: list[dt.datetime] | None = None
    failed = 0
    for parse in _parsers(rows[0][1]):
        found = []
        for place, (_, text) in enumerate(rows):
            try:
                found.append(parse(text))
            except ValueError:
                failed = max(failed, place)
                break
        else:
            if len({one.tzinfo is None for one in found}) == 1:
                found = _over_midnight(found) if found[0].year == 1900 else found
                if best is None or _span(found) < _span(best):
                    best = found
    if best is None:
        number, text = rows[failed]
        what = f"{text[:40]!r} is no time like those above it"
        raise RecordError(Problem(file, f"row {number}", what, "write every time as in the first row"))
    return best


def _span(stamps: Sequence[dt.datetime]) -> dt.timedelta:
    return max(stamps) - min(stamps)


def _over_midnight(stamps: Sequence[dt.datetime]) -> list[dt.datetime]:
    """Return times without a day with the days counted on where a clock begins anew."""
    days, out = dt.timedelta(0), [stamps[0]]
    for before, now in pairwise(stamps):
        if before - now > dt.timedelta(hours=12):
            days += dt.timedelta(days=1)
        out.append(now + days)
    return out


def _minutes(
    file: str, numbers: Sequence[int], stamps: Sequence[dt.datetime], clock_changed: bool
) -> list[float]:
    """Return minutes since the first reading; a clock that jumps is set right once where somebody said so."""
    none = dt.timedelta(0)
    steps = [now - before for before, now in pairwise(stamps)]
    usual = sorted(steps)[len(steps) // 2] if steps else none
    near = max(usual, dt.timedelta(minutes=5))
    shift, out, changed = none, [0.0], False
    for number, (before, now), step in zip(numbers[1:], pairwise(stamps), steps, strict=True):
        jump = HOUR if step <= none else -HOUR
        jumps = before.hour < CHANGED_BY and not none < step < HOUR and abs(step + jump - usual) <= near
        if clock_changed and not changed and jumps:
            shift, changed = shift + jump, True
        elif step <= none:
            back = f"its time goes from {before:%H:%M:%S} back to {now:%H:%M:%S}"
            fix = "put the rows in order of time; if clocks were put back that night, add --clock-changed"
            what = back if step else "its time is that of the row above"
            raise RecordError(Problem(file, f"row {number}", what, fix))
        minute = (now - stamps[0] + shift) / dt.timedelta(minutes=1)
        if minute <= out[-1]:
            what = "its time is not after that of the row above"
            raise RecordError(Problem(file, f"row {number}", what, "put the rows in order of time"))
        out.append(minute)
    if clock_changed and not changed:
        what = "no jump of an hour in the night is in it"
        raise RecordError(Problem(file, "", what, "leave --clock-changed out"))
    return out


def _columns(
    head: Sequence[str], rows: Sequence[Sequence[str]], first: int
) -> tuple[list[_Column], tuple[str, ...]]:
    """Return the columns of temperatures, and the headings of those of other measures."""
    columns, left_out = [], []
    width = max(map(len, rows))
    for place in range(first, width):
        cells = [row[place] for row in rows if place < len(row) and row[place]]
        numbers = sum(_NUMBER.fullmatch(cell) is not None for cell in cells)
        if not cells or 2 * numbers < len(cells):
            continue
        heading = head[place] if place < len(head) else ""
        said = _SCALE.search(heading)
        if said is None and _OTHER.search(heading):
            left_out.append(heading)
            continue
        scale = next((part[0].upper() for part in said.groups() if part), "") if said else ""
        name = " ".join(_EMPTY.sub(" ", _SCALE.sub(" ", heading)).split()).strip(" ,([")
        columns.append(_Column(place, name or f"column {place + 1}", scale))
    return columns, tuple(left_out)

"""Readings of the temperature probes of a heat treatment, from CSV."""

from __future__ import annotations

import csv
import io
import math

from spread.errors import Problem, RecordError
from spread.trade.credit import celsius_of
from spread.trade.probes import COLDEST, HOTTEST

COLUMNS = ("probe", "minute")
DEGREES = ("celsius", "fahrenheit")
MOST_READINGS = 200_000  #: A reading a second from ten probes for five hours

Readings = dict[str, list[tuple[float, float]]]


def parse_probes(text: str, name: str = "probes.csv") -> Readings:
    """Read the log of temperature probes in our own form.

    ``text``: CSV with the columns ``probe``, ``minute`` (from any beginning) and ``celsius`` or
    ``fahrenheit``; ``probe`` says where it lay, and its rows are in order of time. Raises RecordError with
    every problem of the file, each with its line and field.

    Returned: readings (minute, degrees C) by probe, probes in the order in which they first appear.
    """
    rows = csv.reader(io.StringIO(text, newline=""))
    problems: list[Problem] = []
    readings: Readings = {}
    try:
        head = [cell.strip().casefold() for cell in next(rows, [])]
        scale = _scale(head, name)
        for count, cells in enumerate(rows):
            if count >= MOST_READINGS:
                problems.append(Problem(name, "", f"it has over {MOST_READINGS} readings", "thin it out"))
                break
            if any(cell.strip() for cell in cells):
                named = dict(zip(head, (cell.strip() for cell in cells), strict=False))
                _add(readings, named, scale, f"line {rows.line_num}", name, problems)
    except csv.Error as error:
        problems.append(Problem(name, f"line {rows.line_num}", f"it is no CSV ({error})", "save it as CSV"))
    if not problems and not readings:
        problems.append(Problem(name, "", "it has no reading", "give one row a reading below the header"))
    if problems:
        raise RecordError(problems)
    return readings


def _scale(head: list[str], name: str) -> str:
    """Return the column of the degrees; raise when a column is missing."""
    scales = [column for column in DEGREES if column in head]
    missing = [column for column in COLUMNS if column not in head]
    if missing or len(scales) != 1:
        what = f"no column {missing[0]!r}" if missing else f"{len(scales) or 'no'} columns of degrees"
        fix = "begin with the header probe,minute,celsius or probe,minute,fahrenheit"
        raise RecordError(Problem(name, "line 1", f"it has {what}", fix))
    return scales[0]


def _add(
    readings: Readings, row: dict[str, str], scale: str, where: str, name: str, problems: list[Problem]
) -> None:
    probe, before = row.get("probe", ""), len(problems)
    if not probe:
        problems.append(Problem(name, f"{where}, field 'probe'", "it is empty", "give the probe's mark"))
    minute = _number(row.get("minute", ""), f"{where}, field 'minute'", name, problems)
    degrees = _number(row.get(scale, ""), f"{where}, field {scale!r}", name, problems)
    if len(problems) > before:
        return
    celsius = degrees if scale == "celsius" else celsius_of(degrees)
    if wrong := wrong_reading(degrees, celsius):
        problems.append(Problem(name, f"{where}, field {scale!r}", *wrong))
    elif readings.get(probe) and readings[probe][-1][0] >= minute:
        what = f"minute {minute:g} of probe {probe[:40]} comes after minute {readings[probe][-1][0]:g}"
        problems.append(Problem(name, f"{where}, field 'minute'", what, "put its rows in order of time"))
    else:
        readings.setdefault(probe, []).append((minute, celsius))


def wrong_reading(shown: float, celsius: float) -> tuple[str, str] | None:
    """Return what is wrong with a reading that no probe in a room has, and what to do; None if it may be."""
    if COLDEST <= celsius <= HOTTEST:
        return None
    what = f"{shown:g} is {celsius:.0f} C, expected {COLDEST:g} to {HOTTEST:g} C"
    return what, "check the probe and the scale"


def _number(text: str, where: str, name: str, problems: list[Problem]) -> float:
    try:
        number = float(text)
    except ValueError:
        number = math.nan
    if not math.isfinite(number):
        found = repr(text[:40]) if text else "it is empty"
        problems.append(Problem(name, where, f"{found}, expected a number", "write it with a decimal point"))
    return number

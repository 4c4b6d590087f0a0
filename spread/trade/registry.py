"""Every method by its key, gathered from the rows of :mod:`spread.trade.methods`.

What differs between methods is asked of their rows (``LOOKING["dog"].confirmed_by``); no other module may
name one to tell it from the rest.
"""

from __future__ import annotations

from collections import Counter
from types import MappingProxyType

from spread.trade.methods import looks, monitors, treatments
from spread.trade.methods.rows import Look, Monitor, Treatment

MONITORS = MappingProxyType({row.key: row for row in monitors.ROWS})  #: Methods of a monitor period
LOOKS = MappingProxyType({row.key: row for row in looks.ROWS})  #: Methods of an inspection
LOOKING: MappingProxyType[str, Look] = MappingProxyType({**LOOKS, **MONITORS})
"""Every method of looking: looks, then monitors."""
TREATMENTS = MappingProxyType({row.key: row for row in treatments.ROWS})  #: Methods of a treatment

BY_EYE = tuple(key for key, row in LOOKING.items() if row.by_eye)
"""Looks whose signs are seen by whoever writes them down, and that count towards clearance."""
HEARSAY = tuple(key for key, row in LOOKING.items() if row.hearsay)
"""Methods that are somebody's word and no look in the sense of the rules."""
UNCONFIRMED = tuple(key for key, row in LOOKING.items() if not row.proves)
"""Methods whose word alone neither makes nor ends a known infestation."""
ROOM_HEAT = next(key for key, row in TREATMENTS.items() if row.heats_rooms)
"""The treatment that a programme turns to as heat."""


def check(rows: tuple[Look | Treatment, ...]) -> None:
    """Refuse a registry that contradicts itself, so that a new row is wrong at once and not in use."""
    twice = [key for key, times in Counter(row.key for row in rows).items() if times > 1]
    assert not twice, f"two rows have the key {twice[0]!r}; give each method a word of its own"
    for row in rows:
        if isinstance(row, Look):
            levels = len(row.sensitivity)
            assert levels == 4, f"{row.key}: a sensitivity for each of 4 levels, found {levels}"
            assert not row.confirmed_by or LOOKS[row.confirmed_by].proves, f"{row.key}: confirmed by no find"
            assert row.proves or (row.alert and row.caution), f"{row.key}: say its alert and its caution"
            assert row.proves or not row.by_eye, f"{row.key}: what proves nothing clears nothing"
        if isinstance(row, Monitor):
            assert row.proves, f"{row.key}: a monitor's catch is seen"
            assert len(row.caps) == 4, f"{row.key}: a cap for each of 4 levels"
            assert row.nominal_days > 0, f"{row.key}: a period of some days"
            assert 0 < row.set_up <= row.minutes.central, f"{row.key}: the first visit is part of its minutes"


check((*looks.ROWS, *monitors.ROWS, *treatments.ROWS))

"""Whether a period of traps lies within the days on which they stood, by the log's own notes."""

from __future__ import annotations

import pytest

from spread.decisions.case.traps import SET, UP, stood
from tests.buildings import row


def period(ago: int, days: int = 14):
    return row("101", ago, "monitor", "interceptors", "no", days=days)


@pytest.mark.parametrize(
    ("notes", "ago", "counts"),
    [
        ((), 20, True),  # the log keeps no such days
        (((SET, 10),), 20, True),  # and kept none yet
        (((SET, 10),), 10, True),  # the old traps were read on the day on which new ones were set
        (((SET, 10),), 2, False),  # began before they stood
        (((SET, 16),), 2, True),
        (((SET, 40), (UP, 30)), 10, False),  # nothing stood
        (((SET, 40), (UP, 15)), 10, False),  # taken up on the way
        (((UP, 15),), 10, False),
        (((UP, 15), (SET, 5)), 10, False),
        (((SET, 40), (UP, 10)), 10, True),  # read, then taken up
    ],
)
def test_a_period_counts_where_the_log_does_not_say_that_no_trap_stood(notes, ago, counts):
    rows = [row("101", when, "note", method) for method, when in notes]
    one = period(ago)
    assert stood([*rows, one], one) is counts

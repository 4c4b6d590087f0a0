"""What the phone pages say that the rest of the dashboard does not."""

from __future__ import annotations

from collections.abc import Sequence

from dashboard.words import EVIDENCE_WORDS, LEVEL_HINTS, LEVEL_WORDS
from spread.records.kinds import LEVELS, LOOKS
from spread.records.words import METHOD_WORDS
from spread.trade.registry import LOOKING
from spread.words import ENGLISH, Voice

BRING_TOO = {
    "treat": ("what the treatment plan on the room page lists",),
    "revisit": ("spare interceptors", "the findings of the last look"),
}
"""What to bring besides, by where a unit stands (common practice, no source)."""

BRING_WHEN_OFTEN_SHUT = "a card to leave: often nobody opens"
OFTEN_SHUT = 0.7
"""A door that opens less often than this is often shut (judgement, no source)."""


def bring(method: str, status: str, opens: float, voice: Voice = ENGLISH) -> list[str]:
    """Return what to bring to a door.

    Parameters
    ----------
    method
        How the technician looks.
    status
        ``look``, ``treat`` or ``revisit``.
    opens
        Chance that somebody opens, 0 to 1.
    voice
        Language of the technician.
    """
    things = [*LOOKING[method].bring, *BRING_TOO.get(status, ())]
    things += [BRING_WHEN_OFTEN_SHUT] if opens < OFTEN_SHUT else []
    return [voice.term("bring", thing) for thing in things]


def choices() -> dict[str, list[list[str]]]:
    """Return the words that the phone offers: methods, levels with their hints, evidence."""
    seen: Sequence[str] = ("live", "eggs", "skins", "stains", "dead", "alert")  # bites are no find of a look
    return {
        "methods": [[method, METHOD_WORDS[method]] for method in LOOKS],
        "levels": [[level, LEVEL_WORDS[level], LEVEL_HINTS[level]] for level in LEVELS],
        "evidence": [[word, EVIDENCE_WORDS[word]] for word in seen],
    }

"""What the phone pages say that the rest of the dashboard does not."""

from __future__ import annotations

from collections.abc import Sequence

from spread.records.kinds import LEVELS, LOOKS
from spread.trade.registry import LOOKING
from spread.words.terms import level_choice, method_name, sign_choice
from spread.words.voice import ENGLISH, Voice

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
        In which it is told.
    """
    things = [voice.term("bring", thing) for thing in LOOKING[method].bring]
    if status == "treat":
        things.append(voice.text("what the treatment plan on the room page lists"))
    if status == "revisit":
        things += [voice.text("spare interceptors"), voice.text("the findings of the last look")]
    if opens < OFTEN_SHUT:
        things.append(voice.text("a card to leave: often nobody opens"))
    return things


def choices(voice: Voice = ENGLISH) -> dict[str, list[list[str]]]:
    """Return the words that the phone offers: methods, levels with their hints, evidence."""
    seen: Sequence[str] = ("live", "eggs", "skins", "stains", "dead", "alert")  # bites are no find of a look
    return {
        "methods": [[method, method_name(method, voice)] for method in LOOKS],
        "levels": [level_choice(level, voice) for level in LEVELS],
        "evidence": [sign_choice(sign, voice) for sign in seen],
    }

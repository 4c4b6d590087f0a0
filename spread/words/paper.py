"""What printed pages say themselves, and times and chances as residents and technicians count them."""

from __future__ import annotations

from spread.words.voice import Voice

NOON = 12 * 60


def page_words(voice: Voice) -> dict[str, str]:
    """Return the few words that the writers of pages set."""
    return {
        "caution": voice.text("Caution"),
        "sources": voice.text("Sources"),
        "page": voice.text("Page"),
        "of": voice.term("page", "of"),
        "tick": voice.term("tick", "Done"),
    }


def time_of_day(minute: int, voice: Voice) -> str:
    """Return a time of day as people say it, such as ``9:30 am``; the form follows the hour where it must."""
    minute %= 2 * NOON
    hour = minute // 60 % 12 or 12
    clock = f"{hour}:{minute % 60:02d}"
    if minute == NOON:
        return voice.many("{clock} noon", "{clock} noon", hour, clock=clock)
    if minute < NOON:
        return voice.many("{clock} am", "{clock} am", hour, clock=clock)
    return voice.many("{clock} pm", "{clock} pm", hour, clock=clock)


def of_100(chance: float, voice: Voice) -> str:
    """Return a chance as people count: ``about 34 of 100 such units have bed bugs``; never none or all."""
    number = round(100 * chance)
    if number < 1:
        return voice.text("fewer than 1 of 100 such units have bed bugs")
    if number > 99:
        return voice.text("more than 99 of 100 such units have bed bugs")
    return voice.many(
        "about {number} of 100 such units has bed bugs",
        "about {number} of 100 such units have bed bugs",
        number,
    )

"""Figures over runs in a person's language: a middle, a band and an error are joined here alone."""

from __future__ import annotations

import math

from spread.programmes.figures import Figure, Share, Solved
from spread.words.voice import Voice

PLUS_MINUS = "\N{PLUS-MINUS SIGN}"


def number(value: float, voice: Voice) -> str:
    """Return a figure in whole numbers, a small one with a decimal; an infinite one is never reached."""
    if not math.isfinite(value):
        return voice.text("never")
    return voice.number(value, 1 if abs(value) < 10 and value != round(value) else 0)


def band(figure: Figure, voice: Voice) -> str:
    """Return the ends between which nine tenths of the runs lie."""
    return voice.text("{low} to {high}", low=number(figure.low90, voice), high=number(figure.high90, voice))


def spanned(voice: Voice, middle: str, low: str, high: str) -> str:
    """Return a middle with its ends in brackets; the middle alone where all three read the same."""
    if low == middle == high:
        return middle
    return voice.text("{median} ({low} to {high})", median=middle, low=low, high=high)


def with_band(figure: Figure, voice: Voice) -> str:
    """Return the median of a figure with the ends of its band."""
    return spanned(voice, *(number(one, voice) for one in (figure.median, figure.low90, figure.high90)))


def error(figure: Figure, voice: Voice, sign: str = PLUS_MINUS) -> str:
    """Return the simulation error of the middle with its sign; empty where too few runs tell none."""
    return f"{sign} {number(figure.median_error, voice)}" if math.isfinite(figure.median_error) else ""


def share(chance: Share, voice: Voice) -> str:
    """Return a share of the runs as a percentage; all or none only where each run said so."""
    percent = round(100 * chance.chance)
    if percent in (0, 100) and chance.chance not in (0.0, 1.0):
        return voice.per_cent(">99" if percent else "<1")
    return voice.per_cent(voice.number(100 * chance.chance))


def share_error(chance: Share, voice: Voice, sign: str = PLUS_MINUS) -> str:
    """Return the simulation error of a share in percentage points, with its sign."""
    points = 100 * chance.error
    return f"{sign} {voice.number(points, 0 if points >= 0.95 else 1)}"


def share_with_error(chance: Share, voice: Voice, sign: str = PLUS_MINUS) -> str:
    """Return a share with its error, such as ``92% (± 1)``."""
    return f"{share(chance, voice)} ({share_error(chance, voice, sign)})"


def solved(answer: Solved, voice: Voice) -> str:
    """Return a solved figure with its band."""
    value = voice.text("unknown") if answer.value is None else voice.number(answer.value, 2)
    if answer.low is None or answer.high is None:
        return value
    low, high = voice.number(answer.low, 2), voice.number(answer.high, 2)
    return spanned(voice, value, low, high)


def signed(value: float, voice: Voice) -> str:
    """Return a whole difference with its sign, a typographic minus among them."""
    whole = round(value)
    sign = "+" if whole > 0 else "\N{MINUS SIGN}"
    return f"{sign}{voice.number(abs(whole))}" if whole else "0"


def difference(figure: Figure, voice: Voice) -> str:
    """Return a difference with its simulation error, where runs were enough to tell it, and its band."""
    middle = " ".join(filter(None, [signed(figure.median, voice), error(figure, voice)]))
    low, high = signed(figure.low90, voice), signed(figure.high90, voice)
    return spanned(voice, middle, low, high)

"""What the simulation gives for published programmes, as rows for an owner, met or missed."""

from __future__ import annotations

from collections.abc import Sequence

from spread.programmes.published import Published
from spread.words.voice import Voice

SHARE = 100.0  #: Trials are kept as shares and said in per cent
LONG_COURSES = "S13"  #: The trial of the longest courses of treatment


def published_rows(figures: Sequence[Published], voice: Voice) -> tuple[tuple[str, str, str, str], ...]:
    """Return what was run, what was published, what comes out here, and whether that was accepted.

    Programmes come one by one; of trials of treatment alone the longest, since it is missed by most.
    """
    by_name = {each.name: each for each in figures}
    said = {
        "V4 usual service from 6 %": voice.text("Usual service, 6 % of units infested: a year later"),
        "V5 building-wide from 9 %": voice.text("Building-wide programme, 9 %: a year later"),
        "V6 managed, change in 24 months": voice.text("Two managed communities: change in two years"),
        "V7 usual service, change in 24 months": voice.text("Usual service, surveyed: change in two years"),
        LONG_COURSES: voice.text("Half a year of treatment in hard units: units without bugs"),
    }
    return tuple(_row(what, by_name[name], voice) for name, what in said.items())


def trials_line(figures: Sequence[Published], voice: Voice) -> str:
    """Return how many trials of treatment come out, and what the misses mean for whoever hopes for nil."""
    trials = [each for each in figures if "/" in each.published]
    return voice.text(
        "Of {all} trials of treatment {met} come out as published, within their own 95 % range. Long "
        "courses end more infestations here than they did, so the chances of nil are on the hopeful side.",
        all=len(trials),
        met=sum(each.met for each in trials),
    )


def _row(what: str, each: Published, voice: Voice) -> tuple[str, str, str, str]:
    scale = SHARE if "/" in each.published else 1.0
    middle, low, high = (voice.number(value * scale) for value in (each.simulated, each.low, each.high))
    return (
        what,
        _as_published(each.published, voice),
        voice.text("{middle} % ({low} to {high})", middle=middle, low=low, high=high),
        voice.text("inside") if each.met else voice.text("outside"),
    )


def _as_published(words: str, voice: Voice) -> str:
    found, slash, of = words.partition("/")
    if slash:
        return voice.text("{found} of {all}", found=found, all=of)
    return voice.joined(words.split(" and "))

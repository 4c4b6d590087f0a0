"""What the log taught about a building's rates, and its past, in words a manager reads."""

from __future__ import annotations

import datetime as dt
from typing import Any

from spread.decisions.doors.learned import Comparison, Learned, Range, RateReport
from spread.decisions.past import Past
from spread.facts import as_json
from spread.weeks import week_of
from spread.words.reasons import times
from spread.words.saying import say
from spread.words.terms import route_name
from spread.words.voice import ENGLISH, Voice, upper
from spread.words.why import span_data

TELLS = 0.75
"""Probability from which one route is said to matter more than another (judgement)."""


def rate_name(name: str, voice: Voice) -> str:
    """Return what a rate of the model is called."""
    if name == "brought in":
        return voice.text("What people bring in")
    if name == "building-wide":
        return voice.text("Visits, laundry and lounges")
    if name == "moved in":
        return voice.text("Move-ins")
    return route_name(name, voice)


@say.register
def _(fact: RateReport, voice: Voice) -> str:
    name = rate_name(fact.name, voice)
    share = fact.posterior.median / fact.prior.median
    if fact.taught_by:
        return _against_the_firm(fact, name, share, voice)
    if not fact.learned:
        return voice.text("{rate}: the log cannot tell yet; this is the general experience.", rate=name)
    if 0.8 < share < 1.25:
        return voice.text("{rate}: as in general experience, and the log has narrowed it.", rate=name)
    return voice.text(
        "{rate}: {times} as much as in general experience.", rate=name, times=_about(share, voice)
    )


def _against_the_firm(fact: RateReport, name: str, share: float, voice: Voice) -> str:
    """Say a rate beside what the firm's buildings taught."""
    if not fact.learned:
        return voice.text(
            "{rate}: the log cannot tell yet; this is what {number} buildings of the firm taught.",
            rate=name,
            number=fact.taught_by,
        )
    if 0.8 < share < 1.25:
        return voice.text("{rate}: as in the firm’s other buildings, and the log has narrowed it.", rate=name)
    return voice.text(
        "{rate}: {times} as much as in the firm’s other buildings.", rate=name, times=_about(share, voice)
    )


def _about(share: float, voice: Voice) -> str:
    if share >= 1.75:
        return voice.text("about {times}", times=times(max(2, round(share)) if share >= 2.5 else 2, voice))
    if share >= 1.25:
        return voice.text("about one and a half times")
    if share > 0.6:
        return voice.text("about three quarters")
    parts = {
        2: voice.text("about half"),
        3: voice.text("about a third"),
        4: voice.text("about a quarter"),
        5: voice.text("about a fifth"),
    }
    return parts.get(round(1 / share)) or voice.text("about a tenth")


@say.register
def _(fact: Comparison, voice: Voice) -> str:
    more, less = rate_name(fact.more, voice), rate_name(fact.less, voice)
    sure, before = voice.percent(fact.sure), voice.percent(fact.sure_before)
    if fact.sure < TELLS:
        return voice.text(
            "Whether {one} or {other} matter more here cannot be told yet ({sure} for {one}).",
            one=more.lower(),
            other=less.lower(),
            sure=sure,
        )
    if not fact.learned:
        return voice.text(
            "{one} matter more than {other} in general ({before}); this log cannot tell yet.",
            one=more,
            other=less.lower(),
            before=before,
        )
    return voice.text(
        "In this building {one} matter more than {other} (sure: {sure}; before the log {before}).",
        one=more.lower(),
        other=less.lower(),
        sure=sure,
        before=before,
    )


def learned_words(learned: Learned, voice: Voice) -> tuple[str, ...]:
    """Return what the log taught in sentences, the most telling first."""
    untold = [rate for rate in learned.rates if not rate.learned]
    brought_in = next(rate for rate in learned.rates if rate.name == "brought in")
    brought = {"rate": _a_year(learned.brought_in_per_year, voice)}
    if brought_in.learned:
        told = voice.text("Brought into the building: {rate}, move-ins not counted.", **brought)
    else:
        told = voice.text(
            "Brought into the building: {rate}, move-ins not counted; the log has hardly moved this figure.",
            **brought,
        )
    parts = sorted(learned.new_per_year.items(), key=lambda pair: -pair[1].median)
    pace = voice.text(
        "New infestations at the pace of today: {rate}; {parts}.",
        rate=_a_year(learned.new_in_all, voice),
        parts=voice.joined(
            [f"{rate_name(name, voice).lower()} {_short(span.median, voice)}" for name, span in parts]
        ),
    )
    sentences = [say(each, voice) for each in learned.comparisons] + [told, pace]
    sentences += [say(rate, voice) for rate in learned.rates if rate.learned]
    if untold:
        names = upper(voice.joined([rate_name(rate.name, voice).lower() for rate in untold]))
        taught = untold[0].taught_by
        sentences.append(
            voice.text(
                "{rate}: the log cannot tell yet; this is what {number} buildings of the firm taught.",
                rate=names,
                number=taught,
            )
            if taught
            else voice.text("{rate}: the log cannot tell yet; this is the general experience.", rate=names)
            if len(untold) == 1
            else voice.text(
                "{rates}: the log cannot tell yet; these are the general experience.", rates=names
            )
        )
    if learned.room is not None:
        sentences.append(say(learned.room, voice))
    return tuple(sentences)


def not_learned(voice: Voice) -> str:
    """Return that the fit learned no rates."""
    return voice.text("The rates were held at the general experience: nothing was learned from the log.")


def _a_year(span: Range, voice: Voice) -> str:
    low, median, high = (_short(value, voice) for value in (span.low, span.median, span.high))
    return voice.text("about {median} a year (90 % sure: {low} to {high})", median=median, low=low, high=high)


def _short(value: float, voice: Voice) -> str:
    if value < 0.1:
        return voice.text("under 0.1")
    return voice.number(value, 1 if value < 10 else 0)


def past_words(past: Past, voice: Voice) -> tuple[str, ...]:
    """Return a building's past in sentences."""
    last = past.weeks[-1]
    # A building may have had its most in several weeks alike: the latest is said.
    most = max(reversed(past.weeks), key=lambda week: week.median)
    peak, start = (dt.date.fromisoformat(week.monday) for week in (most, past.weeks[0]))
    sentences = [
        voice.text(
            "Infested now: about {median} units (90 % sure: {low} to {high}).",
            median=last.median,
            low=last.low,
            high=last.high,
        )
    ]
    if week_of(peak) != week_of(dt.date.fromisoformat(last.monday)):
        sentences.append(
            voice.text(
                "Most in the week of {day}: about {median} ({low} to {high}).",
                day=voice.day(peak),
                median=most.median,
                low=most.low,
                high=most.high,
            )
        )
    maybe_none = past.none >= 0.005
    before = voice.percent(past.before)
    if past.first is None:
        sentences.append(voice.text("No draw has an infested unit in any week of the window."))
    elif past.before >= 0.5:
        sentences.append(
            voice.text(
                "Some unit was infested before {day}, when the window begins (chance {before}).",
                day=voice.day(start),
                before=before,
            )
        )
    else:
        span = say(past.first, voice)
        message = (
            voice.text(
                "The first infestation of the window began if there was one {span}; chance that it was there "
                "before the window begins: {before}."
            )
            if maybe_none
            else voice.text(
                "The first infestation of the window began {span}; chance that it was there before the "
                "window begins: {before}."
            )
        )
        sentences.append(message.format(span=span, before=before))
    if maybe_none:
        none = voice.percent(past.none)
        sentences.append(voice.text("Chance that no unit was infested in any week: {none}.", none=none))
    return tuple(sentences)


def learned_data(learned: Learned) -> dict[str, Any]:
    """Return what was learned ready for JSON, with its words in English."""
    told: dict[str, Any] = as_json(learned)  # type: ignore[assignment]
    for name in ("rates", "comparisons"):
        for made, fact in zip(told[name], getattr(learned, name), strict=True):
            made["words"] = say(fact, ENGLISH)
    return told | {"words": list(learned_words(learned, ENGLISH))}


def past_data(past: Past) -> dict[str, Any]:
    """Return the past ready for JSON, with its words in English."""
    told: dict[str, Any] = as_json(past)  # type: ignore[assignment]
    return told | {"first": span_data(past.first), "words": list(past_words(past, ENGLISH))}

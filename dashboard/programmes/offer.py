"""The offer as typed on the programme page: fees, term, guarantee and the firm's own sentences."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import get_args

from dashboard.programmes.prices import number_typed
from spread.programmes.fees import FEE_NAMES, MOST_FEE, Renewal
from spread.programmes.offer import LONGEST, MOST_LINES, OFFER_FILE, TEXTS, Terms, read_offer
from spread.session import Session
from spread.words import ENGLISH, Voice
from spread.words.offer import field_name, renewal_name

NUMBERS: Mapping[str, tuple[str, float]] = {
    **dict.fromkeys(FEE_NAMES, ("money", MOST_FEE)),
    "year": ("", 2100.0),
    "term_months": ("months", 120.0),
    "notice_days": ("days", 365.0),
    "refund": ("%", 100.0),
}
"""Numbers of an offer: what they are counted in, and the most that each may be."""
PREFIX = "offer."
"""Before the names of the offer's fields, which travel with the prices."""


@dataclass(frozen=True, slots=True)
class TypedOffer:
    """What was typed: the building's own offer with every good entry in it, and a sentence for a bad one."""

    terms: Terms
    problems: Mapping[str, str] = field(default_factory=dict)


def usual_offer(session: Session) -> Terms:
    """Return the offer of the building's own file, or one that asks for nothing yet."""
    return read_offer(session.building.folder / OFFER_FILE)


def value_of(terms: Terms, name: str) -> float:
    """Return a number of an offer as the page shows it; 0 for a year that nobody said."""
    if name == "year":
        return float(terms.year or 0)
    return float(getattr(terms.fees, name)) * (100.0 if name == "refund" else 1.0)


def typed_offer(usual: Terms, sent: Mapping[str, object], voice: Voice = ENGLISH) -> TypedOffer:
    """Read what was typed over the usual offer; an empty field is as usual."""
    problems: dict[str, str] = {}
    fees: dict[str, object] = {}
    own: dict[str, object] = {}
    for name, (unit, most) in NUMBERS.items():
        text = str(sent.get(PREFIX + name, "")).strip()
        if not text:
            continue
        found = number_typed(text, most)
        if isinstance(found, float) and unit in ("", "months", "days"):
            least = 1990 if name == "year" else 1 if name == "term_months" else 0
            if found != math.floor(found) or found < least:
                found = f"{text[:20]!r} will not do; write a whole number from {least} to {most:.0f}."
        if isinstance(found, str):
            problems[PREFIX + name] = f"{field_name(name, voice)}: {found}"
        else:
            value = found / 100.0 if name == "refund" else found
            whole = name in ("year", "term_months", "notice_days")
            (own if name == "year" else fees)[name] = int(value) if whole else value
    renewal = str(sent.get(f"{PREFIX}renewal", ""))
    if renewal in get_args(Renewal):
        fees["renewal"] = renewal
    if f"{PREFIX}retreats" in sent:
        fees["retreats"] = sent[f"{PREFIX}retreats"] == "yes"
    for name in TEXTS:
        lines = [" ".join(line.split()) for line in str(sent.get(PREFIX + name, "")).splitlines()]
        lines = [line for line in lines if line]
        if len(lines) > MOST_LINES or any(len(line) > LONGEST for line in lines):
            problems[PREFIX + name] = (
                f"{field_name(name, voice)}: keep it to {MOST_LINES} lines of at most {LONGEST} letters."
            )
        elif lines:
            own[name] = tuple(lines)
    terms = replace(usual, fees=replace(usual.fees, **fees), **own)  # type: ignore[arg-type]
    return TypedOffer(terms, problems)


def offer_fields(usual: Terms, currency: str, voice: Voice = ENGLISH) -> list[dict[str, object]]:
    """Return the number fields of the form with what they hold unless somebody types."""
    return [
        {
            "key": PREFIX + name,
            "words": field_name(name, voice),
            "unit": currency if unit == "money" else unit,
            "money": unit == "money",
            "usual": "" if name == "year" and usual.year is None else f"{value_of(usual, name):.10g}",
        }
        for name, (unit, _) in NUMBERS.items()
    ]


def renewals(voice: Voice = ENGLISH) -> list[tuple[str, str]]:
    """Return what may happen when the term is over, with its words."""
    return [(name, renewal_name(name, voice)) for name in get_args(Renewal)]

"""What a firm's buildings show of those who look (column ``by``), pooled only where the firm turned it on.

It is one decision, in the firm's own file ``firm.toml``; without it nothing of this is made or kept. What is
kept is the odds of a find of a work code against others who use the same methods, with how much the looks
say: in ``pooled.json`` and in what each building teaches, nowhere else. Turned off, it is deleted.
"""

from __future__ import annotations

import json
import tomllib
from dataclasses import dataclass
from typing import Any

import numpy as np

from spread.building import load_building
from spread.errors import SettingsError
from spread.firm.places import TAUGHT_FILE, Places
from spread.firm.pooled import text_of
from spread.posterior.draws import Posterior
from spread.posterior.dynamics import Floats
from spread.posterior.seeing import FIRST_ODDS, ODDS, WIDTHS
from spread.trade import seeing
from spread.trade.experience import BY, POOLED_FILE, persons_believed

FIRM_FILE = "firm.toml"
LEAST_BUILDINGS, LEAST_LOOKS = 2, 20
"""A work code is pooled that looked in so many buildings and so often in all (judgement)."""
Z90 = 1.6448536269514722
WIDE = 1.0
"""Standard deviation of the prior under which looks are read: wider than people differ."""
_WORDS = """# Whether work codes are pooled over this firm's buildings: docs/persons.md says what that means.
[pooling]
by_person = {choice}
"""


def pools_by_person(places: Places) -> bool:
    """Return whether the firm turned it on. Raises SettingsError where its file cannot be read."""
    data = places.own(FIRM_FILE)
    if not data:
        return False
    fix = "write by_person = true or false below [pooling]"
    try:
        choice = tomllib.loads(data.decode("utf-8-sig")).get("pooling", {}).get("by_person", False)
    except (ValueError, AttributeError):
        raise SettingsError.at(FIRM_FILE, "", "it cannot be read", fix) from None
    if not isinstance(choice, bool):
        raise SettingsError.at(FIRM_FILE, "by_person", "it is neither true nor false", fix)
    return choice


def choose(places: Places, *, by_person: bool) -> None:
    """Keep the firm's decision; turned off, what was kept about persons is deleted at once.

    Where ``firm.toml`` is changed by hand, the next pooling deletes it.
    """
    places.keep_own(FIRM_FILE, _WORDS.format(choice="true" if by_person else "false"))
    if not by_person:
        forget(places)


def shown_by(posterior: Posterior) -> dict[str, tuple[float, float, int]]:
    """Return what a building's looks say of each work code, whatever was believed of it before.

    Returned: by code its pull and precision (mean of the log odds times precision, and precision, of a normal
    likelihood), and how many looks. ``posterior``: fitted under the literature's figures.

    The draws are read as if each person's prior were a wide normal one: their weights leave out what the
    sampler believed of the person given the others, summed over how much people differ.
    """
    names, g = posterior.names, posterior.prior
    if names is None or g is None or posterior.traits is None or not names.people:
        return {}
    first = FIRST_ODDS + len(names.methods)
    people = posterior.traits.draws[:, first : first + len(names.people)]
    at = np.abs(np.log(people)[..., None] - np.log(ODDS)).argmin(axis=2)  # (draws, people)
    logs = g.people_prior[:, at]  # (widths, draws, people)
    wide = _normal_on_grid(WIDE)
    shown = {}
    for p, code in enumerate(names.people):
        others = g.width_prior[:, None] + logs.sum(axis=2) - logs[:, :, p]
        weight = np.exp(others - others.max(axis=0))
        believed = (weight * np.exp(logs[:, :, p])).sum(axis=0) / weight.sum(axis=0)
        share = posterior.weights * wide[at[:, p]] / believed
        share /= share.sum()
        mean = float(share @ np.log(people[:, p]))
        variance = max(float(share @ (np.log(people[:, p]) - mean) ** 2), 1e-3)
        precision = 1.0 / variance - WIDE**-2
        if precision > 0.0:
            looks = int((g.look_who == p).sum())
            shown[code] = (round(mean / variance, 4), round(precision, 4), looks)
    return shown


def persons_in(text: bytes) -> dict[str, Any] | None:
    """Return what a file of the firm or of a building says of work codes; None where it says nothing."""
    told = _with_persons(text)
    return None if told is None else told["persons"]


def persons_of(places: Places) -> dict[str, Any] | None:
    """Return what is kept about work codes, from what buildings show of them; None where it is nothing."""
    shown: dict[str, dict[str, list[float]]] = {}
    for key in places.keys():  # noqa: SIM118 - no mapping
        for code, told in (persons_in(places.beside(key, TAUGHT_FILE)) or {}).items():
            shown.setdefault(code, {})[key] = told
    codes = {
        code: {"looks": int(looks), "shown": {key: told[:2] for key, told in of.items()}}
        for code, of in sorted(shown.items())
        if len(of) >= LEAST_BUILDINGS and (looks := sum(told[2] for told in of.values())) >= LEAST_LOOKS
    }
    return {"width": round(_width_of(codes), 3), "codes": codes} if codes else None


def forget(places: Places) -> None:
    """Delete all that is kept about work codes: of the firm, and of what each building teaches."""
    if (told := _with_persons(places.own(POOLED_FILE))) is not None:
        del told["persons"]
        places.keep_own(POOLED_FILE, text_of(told))
    for key in places.keys():  # noqa: SIM118 - no mapping
        if (told := _with_persons(places.beside(key, TAUGHT_FILE))) is not None:
            del told["persons"]
            load_building(places.source(key)).store.keep_beside(TAUGHT_FILE, json.dumps(told))


def _with_persons(text: bytes) -> dict[str, Any] | None:
    """Return what a file says where it says something of work codes."""
    try:
        told = json.loads(text) if text else None
    except ValueError:
        return None
    return told if isinstance(told, dict) and isinstance(told.get("persons"), dict) else None


@dataclass(frozen=True, slots=True)
class Person:
    """What is known of a work code: 5 %, 50 % and 95 % points of its odds of a find against the usual.

    ``looks``, ``buildings``: on how many looks, in how many buildings, it rests.
    """

    code: str
    low: float
    median: float
    high: float
    looks: int
    buildings: int


def known_of(persons: dict[str, Any] | None) -> tuple[Person, ...]:
    """Return what is kept about work codes, by code."""
    known = []
    for name, (mean, sd) in persons_believed(persons).items():
        code = name.removeprefix(BY)
        one = (persons or {})["codes"][code]
        low, median, high = (float(np.exp(mean + z * sd)) for z in (-Z90, 0.0, Z90))
        known.append(Person(code, low, median, high, int(one["looks"]), len(one["shown"])))
    return tuple(known)


def _width_of(codes: dict[str, Any]) -> float:
    """Return how much people differ, in log odds: the mean over what is believed of it and what they show."""
    logs = -0.5 * (np.log(WIDTHS / seeing.PEOPLE.central) / 0.7) ** 2
    for one in codes.values():
        pull, precision = np.array(list(one["shown"].values())).sum(axis=0)
        # Of the mean of so many looks, which is normal around the person with this precision.
        variance = WIDTHS**2 + 1.0 / precision
        logs += -0.5 * np.log(variance) - 0.5 * (pull / precision) ** 2 / variance
    share = np.exp(logs - logs.max())
    return float(np.sqrt(share @ WIDTHS**2 / share.sum()))


def _normal_on_grid(width: float) -> Floats:
    share = np.exp(-0.5 * (np.log(ODDS) / width) ** 2)
    return np.asarray(share / share.sum())

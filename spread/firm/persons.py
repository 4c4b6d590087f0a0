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
FLAT = 0.02
"""Part of each likelihood that is flat: draws say nothing finer, and no log has the last word."""
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


def shown_by(posterior: Posterior) -> dict[str, tuple[list[float], int]]:
    """Return what a building's looks say of each work code, whatever was believed of it before.

    Returned: by code the logarithm of its likelihood over the grid of odds, and how many looks.
    ``posterior``: fitted under the literature's figures.

    The draws are read as if each person's prior were a wide normal one: their weights leave out what the
    sampler believed of the person given the others, summed over how much people differ. Likelihoods of few
    looks lean to one side, so that no mean and width stand for them.
    """
    names, g = posterior.names, posterior.prior
    if names is None or g is None or posterior.traits is None or not names.people:
        return {}
    first = FIRST_ODDS + len(names.methods)
    people = posterior.traits.draws[:, first : first + len(names.people)]
    at = np.abs(np.log(people)[..., None] - np.log(ODDS)).argmin(axis=2)  # (draws, people)
    logs = g.people_prior[:, at]  # (widths, draws, people)
    wide = _on_grid(WIDE)
    shown = {}
    for p, code in enumerate(names.people):
        others = g.width_prior[:, None] + logs.sum(axis=2) - logs[:, :, p]
        weight = np.exp(others - others.max(axis=0))
        believed = (weight * np.exp(logs[:, :, p])).sum(axis=0) / weight.sum(axis=0)
        share = posterior.weights * wide[at[:, p]] / believed
        seen = np.bincount(at[:, p], weights=share / share.sum(), minlength=len(ODDS))
        likelihood = (1.0 - FLAT) * seen / wide + FLAT
        shown[code] = ([round(float(x), 2) for x in np.log(likelihood)], int((g.look_who == p).sum()))
    return shown


def persons_in(text: bytes) -> dict[str, Any] | None:
    """Return what a file of the firm or of a building says of work codes; None where it says nothing."""
    told = _with_persons(text)
    return None if told is None else told["persons"]


def persons_of(places: Places) -> dict[str, Any] | None:
    """Return what is kept about work codes, from what buildings show of them; None where it is nothing."""
    shown: dict[str, dict[str, tuple[list[float], int]]] = {}
    for key in places.keys():  # noqa: SIM118 - no mapping
        for code, told in (persons_in(places.beside(key, TAUGHT_FILE)) or {}).items():
            shown.setdefault(code, {})[key] = told
    codes = {
        code: {"looks": looks, "shown": {key: logs for key, (logs, _) in of.items()}}
        for code, of in sorted(shown.items())
        if len(of) >= LEAST_BUILDINGS and (looks := sum(many for _, many in of.values())) >= LEAST_LOOKS
    }
    at = [round(float(x), 4) for x in np.log(ODDS)]
    return {"width": round(_width_of(codes), 3), "at": at, "codes": codes} if codes else None


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
        shown = np.sum(list(one["shown"].values()), axis=0)
        top = shown.max()
        logs += [top + np.log(_on_grid(width) @ np.exp(shown - top)) for width in WIDTHS]
    share = np.exp(logs - logs.max())
    return float(np.sqrt(share @ WIDTHS**2 / share.sum()))


def _on_grid(width: float) -> Floats:
    share = np.exp(-0.5 * (np.log(ODDS) / width) ** 2)
    return np.asarray(share / share.sum())

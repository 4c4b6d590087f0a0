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
DRAWS, TURNS = 2000, 12
LETTERS = "abcdefghijklmnopq"
"""A letter a point of the grid of odds."""
FEWEST = 30.0
"""A building whose draws are worth fewer under what the others say says nothing new in that turn."""
FLAT = 0.05
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


def shown_by(posterior: Posterior) -> dict[str, Any]:
    """Return what a building's looks say of each work code: draws of their odds together, and how many looks.

    Together, since whoever misses more than a colleague and a method that finds little there look alike.
    ``posterior``: fitted under the literature's figures. A draw is a letter a code, of its place in the grid.
    """
    names, g = posterior.names, posterior.prior
    if names is None or g is None or posterior.traits is None or not names.people:
        return {"looks": {}, "draws": []}
    first = FIRST_ODDS + len(names.methods)
    people = posterior.traits.draws[:, first : first + len(names.people)]
    few = people[np.linspace(0, len(people) - 1, min(DRAWS, len(people))).round().astype(int)]
    at = np.abs(np.log(few)[..., None] - np.log(ODDS)).argmin(axis=2)
    looks = {code: int((g.look_who == p).sum()) for p, code in enumerate(names.people)}
    return {"looks": looks, "draws": ["".join(LETTERS[k] for k in row) for row in at]}


def persons_in(text: bytes) -> dict[str, Any] | None:
    """Return what a file of the firm or of a building says of work codes; None where it says nothing."""
    told = _with_persons(text)
    return None if told is None else told["persons"]


def persons_of(places: Places) -> dict[str, Any] | None:
    """Return what is kept about work codes, from what buildings show of them; None where it is nothing."""
    told = {key: persons_in(places.beside(key, TAUGHT_FILE)) for key in places.keys()}  # noqa: SIM118
    shown = {key: one for key, one in told.items() if one is not None and one["draws"]}
    looks: dict[str, list[int]] = {}
    for one in shown.values():
        for code, many in one["looks"].items():
            looks.setdefault(code, []).append(many)
    width, sites = likelihoods_of(shown)
    codes = {
        code: {
            "looks": sum(many),
            "shown": {key: np.round(of, 2).tolist() for key, of in sites[code].items()},
        }
        for code, many in sorted(looks.items())
        if len(many) >= LEAST_BUILDINGS and sum(many) >= LEAST_LOOKS
    }
    at = [round(float(x), 4) for x in np.log(ODDS)]
    return {"width": round(width, 3), "at": at, "codes": codes} if codes else None


def likelihoods_of(shown: dict[str, dict[str, Any]]) -> tuple[float, dict[str, dict[str, Floats]]]:
    """Return how much people differ, and what each building says of each work code.

    Returned: a standard deviation of log odds; by code and building the logarithm of a likelihood over the
    grid, such that with what the other buildings say of *all* who look there it gives back what this one
    says (expectation propagation: a building's draws are weighted by what the others say).

    ``shown``: of each building, as of :func:`shown_by`.
    """
    width = seeing.PEOPLE.central
    sites: dict[str, dict[str, Floats]] = {}
    draws, before = {}, {}
    of_width = -0.5 * (np.log(WIDTHS / seeing.PEOPLE.central) / 0.7) ** 2
    on_widths = np.array([log_on_grid(one) for one in WIDTHS])
    for key, one in shown.items():
        at = np.array([[LETTERS.index(x) for x in row] for row in one["draws"]])
        draws[key] = at
        before[key] = np.logaddexp.reduce(of_width[:, None] + on_widths[:, at].sum(axis=2), axis=0)
        for code in one["looks"]:
            sites.setdefault(code, {})[key] = np.zeros(len(ODDS))
    for _ in range(TURNS):
        of_all = log_on_grid(width)
        for key, at in draws.items():
            codes = tuple(shown[key]["looks"])
            others = [of_all + sum(s for k, s in sites[code].items() if k != key) for code in codes]
            logs = sum(other[at[:, p]] for p, other in enumerate(others)) - before[key]
            share = np.exp(logs - logs.max())
            if share.sum() ** 2 / (share**2).sum() < FEWEST:
                continue
            for p, code in enumerate(codes):
                seen = np.bincount(at[:, p], weights=share / share.sum(), minlength=len(ODDS))
                cavity = np.exp(others[p] - others[p].max())
                said = np.log((1.0 - FLAT) * seen / (cavity / cavity.sum()) + FLAT)
                sites[code][key] = 0.5 * (sites[code][key] + said - said.max())
        width = _width_of(sites)
    return width, sites


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


def _width_of(sites: dict[str, dict[str, Floats]]) -> float:
    """Return how much people differ, in log odds: the mean over what is believed of it and what they show."""
    logs = -0.5 * (np.log(WIDTHS / seeing.PEOPLE.central) / 0.7) ** 2
    for one in sites.values():
        shown = np.sum(list(one.values()), axis=0)
        logs += [np.logaddexp.reduce(log_on_grid(width) + shown) for width in WIDTHS]
    share = np.exp(logs - logs.max())
    return float(np.sqrt(share @ WIDTHS**2 / share.sum()))


def log_on_grid(width: float) -> Floats:
    """Return the logarithm of a normal prior of somebody's odds over the grid, summing to one."""
    logs = -0.5 * (np.log(ODDS) / width) ** 2
    return np.asarray(logs - np.logaddexp.reduce(logs))

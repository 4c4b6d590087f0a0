"""Learning a building's own rates, and who infested whom: the compiled part.

Given the paths, the rates are conjugate and exact (``model.md`` 5; Poisson thinning). Every new
infestation had a number of founding arrivals, zero-truncated Poisson with the week's hazard;
split over their sources in proportion to hazard, they are counts of Poisson processes whose
rates have Gamma priors. The same split says where an infestation came from.

``theta`` holds the learned rates in this order: brought in, building-wide mixing, the routes of
:data:`spread.trade.routes.ROUTES`, and last what comes with a move-in.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numba as nb
import numpy as np

from spread.posterior.arrays import Model, State, press
from spread.posterior.compiling import BARE, CALLED, INNER
from spread.posterior.dynamics import Floats
from spread.posterior.exponential import lost

BROUGHT_IN, MIXING, FIRST_ROUTE, MOVE_IN = 0, 1, 2, -1  #: Places in ``theta``
FROM_OUTSIDE, MOVED_IN, ANYWHERE, BEFORE, SHARED = range(5)
"""Columns of ``Blame.other``: brought in, moved in with the people, building-wide, before the window, through
a shared room that no plan shows."""


class Blame(NamedTuple):
    """Where the infestations of today came from, counted over kept sweeps.

    Each infested unit's present spell has one founding source a sweep.
    """

    contact: Floats  # (contacts, routes): row k is the contact indices[k] of the unit that owns k
    other: Floats  # (N, 5)
    began: Floats  # (N, T): first infested week of the present spell; column 0 means before the window


def new_blame(n_contacts: int, n_routes: int, n_units: int, n_weeks: int) -> Blame:
    """Return empty counts; ``n_contacts``, ``n_routes``, ``n_units``, ``n_weeks``: how many there are."""
    return Blame(np.zeros((n_contacts, n_routes)), np.zeros((n_units, 5)), np.zeros((n_units, n_weeks)))


@nb.njit(**CALLED, **BARE)
def set_rates(m: Model, s: State, theta: Floats) -> None:
    """Put learned rates into a model and bring the pressures up to date.

    Who stays clear and who has an event does not depend on rates.

    ``m``, ``s``: model and state; weights, introduction, mixing and pressures are changed; ``theta``: shape
    (rates,): the rates, in the order of :func:`theta_names`.
    """
    exposure, weights, dense, indptr, indices, introduction, moving = (
        m.exposure,
        m.weights,
        m.dense,
        m.indptr,
        m.indices,
        m.introduction,
        m.moving,
    )
    n_units, n_weeks = s.x.shape
    brought_in, moved_in = theta[BROUGHT_IN], theta[len(theta) - 1]
    m.mixing[0] = theta[MIXING] / n_units
    for i in range(n_units):
        for k in range(indptr[i], indptr[i + 1]):
            w = 0.0
            for r in range(exposure.shape[1]):
                w += exposure[k, r] * theta[FIRST_ROUTE + r]
            weights[k] = w
            dense[i, indices[k]] = w
        for t in range(n_weeks):
            introduction[i, t] = brought_in + moved_in * moving[i, t]
    press(m, s)


@nb.njit(**CALLED, **BARE, fastmath={"reassoc", "contract"})
def exposures(m: Model, s: State, out: Floats) -> None:
    """Write into ``out`` the exposure to each rate, summed over clear unit-weeks.

    ``m``, ``s``: model and state; ``out``: shape (rates,); written, in unit-weeks times exposure.
    """
    x, sheds, shed, staying, stays = s.x, s.sheds, s.shed, s.staying, s.stays
    moving, exposure, indptr, indices = m.moving, m.exposure, m.indptr, m.indices
    n_units, n_weeks = x.shape
    out[:] = 0.0
    clear, moved, mixed = 0.0, 0.0, 0.0
    for i in range(n_units):
        for t in range(n_weeks - 1):
            is_clear = 1.0 if x[i, t] == 0 else 0.0
            clear += is_clear
            moved += moving[i, t] * is_clear
        first, last = 0, n_weeks - 1
        while first < last and sheds[i, first] == 0.0:
            first += 1
        while last > first and sheds[i, last - 1] == 0.0:
            last -= 1
        for k in range(indptr[i], indptr[i + 1]):
            j = indices[k]
            push = 0.0
            for t in range(first, last):
                push += sheds[i, t] * staying[j, t]
            if push > 0.0:
                for r in range(exposure.shape[1]):
                    out[FIRST_ROUTE + r] += push * exposure[k, r]
    for t in range(n_weeks - 1):
        mixed += stays[t] * shed[t]
    out[MIXING] = (mixed + exposures_of_events(m, s, out)) / n_units
    out[BROUGHT_IN], out[len(out) - 1] = clear, moved


@nb.njit(**INNER, **BARE)
def exposures_of_events(m: Model, s: State, out: Floats) -> float:
    """Add to ``out`` the exposure along routes of those who had an event, and return that to mixing.

    They were clear until then, and are not among those that stayed so. ``m``, ``s``, ``out``: as in
    :func:`exposures`.
    """
    openness, exposure, indptr, indices = m.openness, m.exposure, m.indptr, m.indices
    sheds, shed, event_week, event_count = s.sheds, s.shed, s.event_week, s.event_count
    mixed = 0.0
    for j in range(event_count.shape[0]):
        for e in range(event_count[j]):
            t = event_week[j, e]
            mixed += openness[j, t] * shed[t]
            for k in range(indptr[j], indptr[j + 1]):
                push = openness[j, t] * sheds[indices[k], t]
                if push > 0.0:  # exposure is the same in both directions
                    for r in range(exposure.shape[1]):
                        out[FIRST_ROUTE + r] += push * exposure[k, r]
    return mixed


@nb.njit(**INNER, **BARE)
def arrivals(m: Model, s: State, theta: Floats, rng: np.random.Generator, out: Floats) -> None:
    """Write into ``out`` how many founding arrivals each rate is given in this sweep.

    ``m``, ``s``: model and state; ``theta``: shape (rates,): the rates, in the order of :func:`theta_names`;
    ``rng``: source of chance; ``out``: shape (rates,); written.
    """
    introduction, openness, mixing = m.introduction, m.openness, m.mixing
    pressure, shed, event_week, event_count = s.pressure, s.shed, s.event_week, s.event_count
    out[:] = 0.0
    for i in range(event_count.shape[0]):
        for e in range(event_count[i]):
            t = event_week[i, e]
            hazard = introduction[i, t] + openness[i, t] * (pressure[i, t] + mixing[0] * shed[t])
            if not was_hit(m, s, i, t, hazard, rng):
                continue
            for _ in range(truncated_poisson(hazard, rng)):
                out[source(m, s, i, t, theta, hazard, rng)[1]] += 1.0


@nb.njit(**CALLED, **BARE)
def was_hit(m: Model, s: State, i: int, t: int, hazard: float, rng: np.random.Generator) -> bool:
    """Return whether a unit with an event was infested that week; one treated at once may have been.

    ``m``, ``s``: model and state; ``i``, ``t``: unit and week; ``hazard``: hazard upon it in that week;
    ``rng``: source of chance.
    """
    k = m.treated[i, t]
    if k < 0:
        return True
    y = s.x[i, t + 1]
    hit = lost(hazard)
    p_hit = hit * m.effects[k, 1, y]
    p_clear = (1.0 - hit) * m.effects[k, 0, y]
    return rng.random() * (p_hit + p_clear) < p_hit


@nb.njit(**CALLED, **BARE)
def truncated_poisson(mean: float, rng: np.random.Generator) -> int:
    """Draw from a Poisson distribution given that it is not zero, by inversion."""
    left = rng.random() * lost(mean)
    n = 1
    p = mean * math.exp(-mean)
    while left > p and n < 1000:
        left -= p
        n += 1
        p *= mean / n
    return n


@nb.njit(**CALLED, **BARE)
def source(
    m: Model, s: State, i: int, t: int, theta: Floats, hazard: float, rng: np.random.Generator
) -> tuple[int, int, int]:
    """Draw the source of one arrival in proportion to hazard.

    Returned: the place of the contact in ``indices`` or -1; the place of the rate in ``theta``, one after its
    end for a shared room; the column of ``Blame.other`` or -1.

    Parameters
    ----------
    m, s : Model and state
    i, t : Unit and week
    theta : Shape (rates,): the rates, in the order of :func:`theta_names`
    hazard : Hazard upon it in that week: the sum over its sources
    rng : Source of chance
    """
    indptr, indices, exposure, weights, members, sheds = (
        m.indptr,
        m.indices,
        m.exposure,
        m.weights,
        m.members,
        s.sheds,
    )
    openness = m.openness[i, t]
    left = rng.random() * hazard
    left -= theta[BROUGHT_IN]
    if left < 0.0:
        return -1, BROUGHT_IN, FROM_OUTSIDE
    left -= theta[len(theta) - 1] * m.moving[i, t]
    if left < 0.0:
        return -1, len(theta) - 1, MOVED_IN
    for k in range(indptr[i], indptr[i + 1]):
        out = sheds[indices[k], t] * openness
        # Exposure, and so the weight, is the same in both directions.
        if left >= out * weights[k]:
            left -= out * weights[k]
            continue
        for r in range(exposure.shape[1]):
            left -= out * exposure[k, r] * theta[FIRST_ROUTE + r]
            if left < 0.0:
                return k, FIRST_ROUTE + r, -1
    if members[i]:
        for j in range(members.shape[0]):
            if members[j] and j != i:
                left -= m.room[0] * sheds[j, t] * openness
        if left < 0.0:
            return -1, len(theta), SHARED
    return -1, MIXING, ANYWHERE


@nb.njit(**INNER)
def log_marginal(shape: float, rate: float, count: float, exposed: float) -> float:
    """Return the log chance, up to a constant, of so many arrivals with their rate summed over its prior."""
    rising = math.lgamma(shape + count) - math.lgamma(shape)
    return rising + shape * math.log(rate) - (shape + count) * math.log(rate + exposed)


@nb.njit(**CALLED)
def draw_rates(
    m: Model,
    s: State,
    theta: Floats,
    shape: Floats,
    rate: Floats,
    often: Floats,
    rng: np.random.Generator,
) -> float:
    """Draw ``theta`` given the paths and its Gamma priors, and put it into the model.

    Returned: how many arrivals came through a shared room, whose rate is drawn elsewhere.

    Parameters
    ----------
    m, s : Model and state; changed as by :func:`set_rates`
    theta : Shape (rates,); written
    shape, rate : Shape (rates,): of the Gamma priors of the rates, which are per week
    often : Shape (3,): of the other prior of what comes with a move-in (:data:`spread.trade.priors.Often`)
    rng : Source of chance
    """
    counts = np.empty(theta.shape[0] + 1)
    exposed = np.empty(theta.shape[0])
    arrivals(m, s, theta, rng, counts)
    exposures(m, s, exposed)
    last = theta.shape[0] - 1
    for r in range(last + 1):
        a, b = shape[r], rate[r]
        if r == last and often[0] > 0.0:
            # Which of its two priors holds, with the rate summed over.
            usual = math.log(1.0 - often[0]) + log_marginal(a, b, counts[r], exposed[r])
            other = math.log(often[0]) + log_marginal(often[1], often[2], counts[r], exposed[r])
            if rng.random() * (1.0 + math.exp(min(usual - other, 700.0))) < 1.0:
                a, b = often[1], often[2]
        # A floor far below any prior keeps the chain able to leave every state.
        theta[r] = max(rng.standard_gamma(a + counts[r]) / (b + exposed[r]), 1e-12)
    set_rates(m, s, theta)
    return counts[len(theta)]


@nb.njit(**INNER, **BARE)
def attribute(m: Model, s: State, theta: Floats, rng: np.random.Generator, blame: Blame) -> None:
    """Add one founding source for every unit that is infested in the last week.

    ``m``, ``s``: model and state; ``theta``: shape (rates,): the rates, in the order of :func:`theta_names`;
    ``rng``: source of chance; ``blame``: counts that are added to.
    """
    introduction, openness, mixing = m.introduction, m.openness, m.mixing
    x, pressure, shed = s.x, s.pressure, s.shed
    by_contact, by_other, began = blame.contact, blame.other, blame.began
    n_units, n_weeks = x.shape
    for i in range(n_units):
        if x[i, n_weeks - 1] == 0:
            continue
        t = n_weeks - 1
        while t > 0 and x[i, t - 1] > 0:
            t -= 1
        began[i, t] += 1.0
        if t == 0:
            by_other[i, BEFORE] += 1.0
            continue
        week = t - 1
        hazard = introduction[i, week] + openness[i, week] * (pressure[i, week] + mixing[0] * shed[week])
        contact, rate, other = source(m, s, i, week, theta, hazard, rng)
        if contact >= 0:
            by_contact[contact, rate - FIRST_ROUTE] += 1.0
        else:
            by_other[i, other] += 1.0


def theta_names(routes: tuple[str, ...]) -> tuple[str, ...]:
    """Return the names of the learned rates in order."""
    return ("brought in", "building-wide", *routes, "moved in")

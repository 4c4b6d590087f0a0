"""Learning who reports, who finds and who resists, given the paths: the compiled steps round a sweep.

Each draws one quantity from its conditional given everything else: shares are Beta, flags of units Bernoulli,
factors are drawn from all points of their grid. So the chain keeps the joint posterior exactly
(``proofs.joint_seeing`` and ``tests/test_seeing.py`` hold it to that).
"""

from __future__ import annotations

import math

import numba as nb
import numpy as np

from spread.posterior.arrays import Model, State
from spread.posterior.compiling import CALLED, INNER
from spread.posterior.dynamics import LEVELS, Floats
from spread.posterior.exponential import lost
from spread.posterior.seeing import (
    BEGAN,
    FACTORS,
    FIRST_ODDS,
    HEAVY,
    LIGHT,
    NEVER,
    ODDS,
    OF_NOTHING,
    PEOPLE,
    RESIST,
    SILENT,
    WIDTHS,
    Seeing,
)
from spread.trade.seeing import NEVER_FACTOR

MOST = 0.9
"""A weekly chance of a report is never more."""
TURNS = 5
"""Turns of drawing the flags of silence and their share, a sweep."""


@nb.njit(**INNER)
def draw_log(logs: Floats, rng: np.random.Generator) -> int:
    """Return an index drawn with chances that are the exponentials of ``logs``, up to a factor."""
    most = logs[0]
    for k in range(1, len(logs)):
        most = max(most, logs[k])
    total = 0.0
    for k in range(len(logs)):
        total += math.exp(logs[k] - most)
    left = rng.random() * total
    for k in range(len(logs) - 1):
        left -= math.exp(logs[k] - most)
        if left < 0.0:
            return k
    return len(logs) - 1


@nb.njit(**INNER)
def draw_share(prior: Floats, yes: float, no: float, rng: np.random.Generator) -> float:
    """Draw a share from its Beta posterior after so many yes and no, kept off 0 and 1."""
    a, b = rng.standard_gamma(prior[0] + yes), rng.standard_gamma(prior[1] + no)
    return min(max(a / (a + b), 1e-9), 1.0 - 1e-9)


@nb.njit(**INNER)
def look_value(
    outcome: bool, chance: float, odds: float, parts: Floats, copied: Floats, floor: float
) -> float:
    """Return P(outcome of a look | level) with the odds of a find (at level 0: of a false one) shifted.

    Parameters
    ----------
    outcome
        Whether it found something.
    chance, odds
        Chance of a find at central odds, and the factor on them.
    parts
        Share and rest, as in :class:`spread.posterior.looks.Look`.
    copied
        How surely it repeats the look before, and whether that found something.
    floor
        Least chance of an outcome.
    """
    found = odds * chance / (1.0 - chance + odds * chance)
    found = (1.0 - copied[0]) * found + copied[0] * copied[1]
    return max(found * parts[0], floor) * parts[1] if outcome else max((1.0 - found) * parts[0], floor)


@nb.njit(**INNER)
def report_chance(central: float, factor: float, never: bool) -> float:
    """Return the weekly chance of a report at a level, given its central value; a clear one is never mute."""
    return min(central * factor, MOST) * (NEVER_FACTOR if never else 1.0)


@nb.njit(**INNER)
def draw_reporting(s: State, g: Seeing, tail: Floats, never: Floats, rng: np.random.Generator) -> None:
    """Draw which units never report, their share, the readiness by level, and how often clear units complain.

    Parameters
    ----------
    s
        State, whose paths are given.
    g
        What is learned.
    tail
        The parameters; written.
    never
        Shape (N,): the flags, a part of the tail; written.
    rng
        Source of chance.
    """
    x, silence, report = s.x, g.silence, g.report
    n_units, n_weeks = x.shape
    counts = np.zeros((n_units, 2, LEVELS))  # silent weeks and reports of each unit by level
    for_never = np.zeros(n_units)  # log ratio of chances of what it said, if it never reports
    heard = np.zeros(n_units, dtype=np.bool_)
    for i in range(n_units):
        for t in range(n_weeks):
            if silence[i, t] > 0:
                counts[i, 0 if silence[i, t] == SILENT else 1, x[i, t]] += 1.0
                heard[i] |= x[i, t] > 0
        for a in range(1, LEVELS):
            if counts[i, 0, a] + counts[i, 1, a] == 0.0:
                continue
            factor = tail[LIGHT] if a <= 2 else tail[HEAVY]
            speaks, mute = report_chance(report[a], factor, False), report_chance(report[a], factor, True)
            for_never[i] += counts[i, 1, a] * math.log(mute / speaks)
            for_never[i] += counts[i, 0, a] * math.log((1.0 - mute) / (1.0 - speaks))
    # Flags and their share hold on to one another, and both to the paths: several turns of the cheap steps
    # are nearly a joint draw of the two. Units without a word of their own take their flags from the share,
    # so the share is drawn without them: with them it would move by a hair a turn.
    for _ in range(TURNS):
        quiet, known = 0, 0
        for i in range(n_units):
            if heard[i]:
                odds = tail[NEVER] / (1.0 - tail[NEVER]) * math.exp(min(for_never[i], 500.0))
                never[i] = 1.0 if rng.random() * (1.0 + odds) < odds else 0.0
                quiet += int(never[i])
                known += 1
        tail[NEVER] = draw_share(g.shares[0], quiet, known - quiet, rng)
    pooled = np.zeros((2, 2, LEVELS))  # by flag: silent weeks, reports
    for i in range(n_units):
        if not heard[i]:
            never[i] = 1.0 if rng.random() < tail[NEVER] else 0.0
        for k in range(2):
            for a in range(LEVELS):
                pooled[int(never[i]), k, a] += counts[i, k, a]
    draw_readiness(g, tail, pooled, rng)


@nb.njit(**INNER)
def draw_readiness(g: Seeing, tail: Floats, pooled: Floats, rng: np.random.Generator) -> None:
    """Draw the readiness to report of light and of heavy infestations, and how often clear units complain.

    ``pooled``: shape (2, 2, levels), unit-weeks by flag, by silence or report, and by level; others as in
    :func:`draw_reporting`.
    """
    report = g.report
    logs = np.empty(len(FACTORS))
    for part in range(2):
        for k in range(len(FACTORS)):
            logs[k] = g.factor_prior[part, k]
            for a in range(1 + 2 * part, 3 + 2 * part):
                for flag in range(2):
                    if pooled[flag, 0, a] + pooled[flag, 1, a] == 0.0:
                        continue
                    chance = report_chance(report[a], FACTORS[k], flag == 1)
                    logs[k] += pooled[flag, 1, a] * math.log(chance)
                    logs[k] += pooled[flag, 0, a] * math.log(1.0 - chance)
        tail[LIGHT + part] = FACTORS[draw_log(logs, rng)]
    logs = g.nothing_prior.copy()
    for k in range(len(ODDS)):
        chance = report_chance(report[0], ODDS[k], False)
        logs[k] += (pooled[0, 1, 0] + pooled[1, 1, 0]) * math.log(chance)
        logs[k] += (pooled[0, 0, 0] + pooled[1, 0, 0]) * math.log(1.0 - chance)
    tail[OF_NOTHING] = ODDS[draw_log(logs, rng)]


@nb.njit(**INNER)
def draw_finding(s: State, g: Seeing, tail: Floats, rng: np.random.Generator) -> None:
    """Draw the odds of methods, people and teams, and how much people differ.

    Parameters
    ----------
    s, g, tail, rng
        As in :func:`draw_reporting`.
    """
    x, unit, week, looked, by, of_team, outcome, chance, parts, copied, floor = (
        s.x,
        g.look_unit,
        g.look_week,
        g.look_method,
        g.look_who,
        g.look_team,
        g.look_found,
        g.look_chance,
        g.look_parts,
        g.look_copied,
        g.floor,
    )
    methods = g.method_prior.shape[0]
    who0 = FIRST_ODDS + methods
    team0 = who0 + g.people
    for turn in range(3):
        size = methods if turn == 0 else (g.people if turn == 1 else g.teams)
        logs = np.zeros((size, len(ODDS)))
        for k in range(len(unit)):
            a = x[unit[k], week[k]]
            method, who, team = looked[k], by[k], of_team[k]
            other = 1.0
            whose = team if turn == 2 else (method if turn == 0 else who)
            if whose < 0 or (a > 0) == (turn == 2):
                continue
            if turn == 0 and who >= 0:
                other = tail[who0 + who]
            elif turn == 1:
                other = tail[FIRST_ODDS + method]
            for h in range(len(ODDS)):
                value = look_value(outcome[k], chance[k, a], other * ODDS[h], parts[k, a], copied[k], floor)
                logs[whose, h] += math.log(value)
        if turn == 1:
            draw_width(g, tail, who0, rng)
        for p in range(size):
            for h in range(len(ODDS)):
                if turn == 0:
                    logs[p, h] += g.method_prior[p, h]
                elif turn == 1:
                    of_all = g.people_prior[nearest(WIDTHS, tail[PEOPLE]), h]
                    logs[p, h] += g.known_prior[p, h] if g.is_known[p] else of_all
                else:
                    logs[p, h] += g.team_prior[h]
            place = (FIRST_ODDS if turn == 0 else (who0 if turn == 1 else team0)) + p
            tail[place] = ODDS[draw_log(logs[p], rng)]


@nb.njit(**INNER)
def draw_width(g: Seeing, tail: Floats, who0: int, rng: np.random.Generator) -> None:
    """Draw how much people differ, given the odds of each of whom no other building told anything."""
    logs = g.width_prior.copy()
    for p in range(g.people):
        if g.is_known[p]:
            continue
        h = nearest(ODDS, tail[who0 + p])
        for w in range(len(logs)):
            logs[w] += g.people_prior[w, h]
    tail[PEOPLE] = WIDTHS[draw_log(logs, rng)]


@nb.njit(**INNER)
def nearest(grid: Floats, value: float) -> int:
    """Return the place in a grid of the point nearest to a value."""
    best = 0
    for k in range(1, len(grid)):
        if abs(grid[k] - value) < abs(grid[best] - value):
            best = k
    return best


@nb.njit(**INNER)
def draw_resisting(
    m: Model, s: State, g: Seeing, tail: Floats, resist: Floats, rng: np.random.Generator
) -> None:
    """Draw which units resist treatment, and their share.

    The model holds every treatment twice; a unit that resists points to the second.

    Parameters
    ----------
    m, s, g, tail, rng
        As elsewhere; ``m.treated`` is changed.
    resist
        Shape (N,): the flags, a part of the tail; written.
    """
    x, treated, effects, growth, vacant = s.x, m.treated, m.effects, m.growth, m.vacant
    introduction, openness, pressure, shed, mixing = m.introduction, m.openness, s.pressure, s.shed, m.mixing
    kinds = g.kinds
    n_units, n_weeks = x.shape
    either = np.empty(2)
    hard, tried = 0, 0
    for i in range(n_units):
        visits = 0
        for_it = math.log(tail[RESIST] / (1.0 - tail[RESIST]))
        for t in range(n_weeks - 1):
            if treated[i, t] < 0:
                continue
            visits += 1
            k = treated[i, t] % kinds
            y = x[i, t + 1]
            either[:] = 0.0
            hit = lost(introduction[i, t] + openness[i, t] * (pressure[i, t] + mixing[0] * shed[t]))
            for a in range(LEVELS):
                p = growth[1 if vacant[i, t] else 0, x[i, t], a]
                if x[i, t] == 0:
                    p = 1.0 - hit if a == 0 else (hit if a == 1 else 0.0)
                either[0] += p * effects[k, a, y]
                either[1] += p * effects[k + kinds, a, y]
            for_it += math.log(max(either[1], 1e-300) / max(either[0], 1e-300))
        if visits == 0:
            resist[i] = -1.0
            continue
        tried += 1
        flag = 1 if rng.random() * (1.0 + math.exp(-for_it)) < 1.0 else 0
        hard += flag
        resist[i] = flag
        for t in range(n_weeks):
            if treated[i, t] >= 0:
                treated[i, t] = treated[i, t] % kinds + flag * kinds
    tail[RESIST] = draw_share(g.shares[1], hard, tried - hard, rng)
    for i in range(n_units):
        if resist[i] < 0.0:
            resist[i] = 1.0 if rng.random() < tail[RESIST] else 0.0
            last = n_weeks - 1  # a treatment of the running week has done nothing yet
            if treated[i, last] >= 0:
                treated[i, last] = treated[i, last] % kinds + int(resist[i]) * kinds


@nb.njit(**CALLED)
def put_seeing(m: Model, g: Seeing, tail: Floats, never: Floats) -> None:
    """Write the likelihood and the start that a tail makes into the model.

    Parameters
    ----------
    m
        Model; ``likelihood`` and ``start`` are written.
    g, tail, never
        As in :func:`draw_reporting`.
    """
    likelihood, static, silence, report, start = m.likelihood, g.static, g.silence, g.report, m.start
    unit, week, looked, by, of_team, outcome, chance, parts, copied, floor = (
        g.look_unit,
        g.look_week,
        g.look_method,
        g.look_who,
        g.look_team,
        g.look_found,
        g.look_chance,
        g.look_parts,
        g.look_copied,
        g.floor,
    )
    n_units, n_weeks = silence.shape
    table = np.ones((3, LEVELS))
    nothing = report_chance(report[0], tail[OF_NOTHING], False)
    for i in range(n_units):
        table[1, 0], table[2, 0] = 1.0 - nothing, nothing
        for a in range(1, LEVELS):
            table[2, a] = report_chance(report[a], tail[LIGHT] if a <= 2 else tail[HEAVY], never[i] > 0.0)
            table[1, a] = 1.0 - table[2, a]
        for t in range(n_weeks):
            code = silence[i, t]
            for a in range(LEVELS):
                likelihood[i, t, a] = static[i, t, a] * table[code, a]
    who0 = FIRST_ODDS + g.method_prior.shape[0]
    for k in range(len(unit)):
        i, t = unit[k], week[k]
        odds = tail[FIRST_ODDS + looked[k]]
        if by[k] >= 0:
            odds *= tail[who0 + by[k]]
        false = tail[who0 + g.people + of_team[k]] if of_team[k] >= 0 else 1.0
        most = 0.0
        for a in range(LEVELS):
            likelihood[i, t, a] *= look_value(
                outcome[k], chance[k, a], odds if a > 0 else false, parts[k, a], copied[k], floor
            )
            most = max(most, likelihood[i, t, a])
        for a in range(LEVELS):
            likelihood[i, t, a] = max(likelihood[i, t, a], 1e-12 * most)
    for a in range(1, LEVELS):
        start[a] = tail[BEGAN] * g.mix[a - 1]
    start[0] = 1.0 - tail[BEGAN]


@nb.njit(**CALLED)
def draw_seeing(m: Model, s: State, g: Seeing, tail: Floats, rng: np.random.Generator) -> None:
    """Draw the whole tail given the paths, and put it into the model.

    Parameters
    ----------
    m, s
        Model and state; the likelihood, the start and which treatments act are changed.
    g
        What is learned.
    tail
        The parameters; written.
    rng
        Source of chance.
    """
    n_units = s.x.shape[0]
    flags = len(tail) - 2 * n_units
    never, resist = tail[flags : flags + n_units], tail[flags + n_units :]
    draw_reporting(s, g, tail, never, rng)
    draw_finding(s, g, tail, rng)
    draw_resisting(m, s, g, tail, resist, rng)
    began = 0
    for i in range(n_units):
        began += s.x[i, 0] > 0
    tail[BEGAN] = draw_share(g.shares[2], began, n_units - began, rng)
    put_seeing(m, g, tail, never)

"""Who reports, who finds, who resists: what a log says of them, as the arrays that the sampler reads.

Beside the rates a chain learns, in this order (the *tail* of its parameters):

- readiness to report of light and of heavy infestations, as factors on the central chances;
- the share of units that never report, and of units that resist treatment; the share infested at the start;
- how much people differ; how often people complain of nothing, as a factor on the central chance of a report
  from a clear unit;
- the odds of a find of each method and of each person who looked (column ``by``), as factors; the odds of a
  false alert of each dog team;
- for each unit whether it never reports, and whether it resists.

The factors are drawn from grids: their conditional is summed over all points, so no step is tuned.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from types import MappingProxyType
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from spread.posterior.dynamics import LEVELS, Floats
from spread.posterior.looks import Look
from spread.records.kinds import LEVELS as GRADES
from spread.records.kinds import Record
from spread.trade import detection, seeing
from spread.trade.experience import BY
from spread.trade.registry import LOOKING

Whole = NDArray[np.int64]

LIGHT, HEAVY, NEVER, RESIST, BEGAN, PEOPLE, OF_NOTHING, FIRST_ODDS = range(8)
"""Places in the tail."""
QUIET, SILENT, REPORTED = 0, 1, 2
"""What a unit-week says by its reports: nothing, that nobody reported, that somebody did."""
FACTORS = np.exp(np.linspace(np.log(0.05), np.log(4.0), 17))
"""Grid of the readiness to report."""
ODDS = np.exp(np.linspace(-3.2, 3.2, 17))
"""Grid of factors on odds, and on how often people complain of nothing."""
WIDTHS = np.array([0.05, 0.2, 0.4, 0.7, 1.0, 1.5])
"""Grid of how much people differ, in log odds."""


class Seeing(NamedTuple):
    """What the steps of :mod:`spread.posterior.seeing_steps` read."""

    static: Floats  # (N, T, levels): the likelihood of all that is known without learning
    silence: NDArray[np.int8]  # (N, T): of occupied units; QUIET where it says nothing or is in static
    report: Floats  # (levels,): central chance of a report in a week
    mix: Floats  # (levels - 1,): levels of the units infested at the start
    factor_prior: Floats  # (2, grid): log prior of the readiness to report
    nothing_prior: Floats  # (grid,): of the factor on complaints of nothing
    shares: Floats  # (3, 2): Beta priors of NEVER, RESIST, BEGAN
    width_prior: Floats  # (grid,): log prior of how much people differ
    people_prior: Floats  # (widths, grid): log prior of one person's odds given how much people differ
    method_prior: Floats  # (methods, grid): of a method's
    team_prior: Floats  # (grid,): of a team's odds of a false alert
    is_known: NDArray[np.bool_]  # (people,): whom a firm's other buildings showed, if it pools by person
    known_prior: Floats  # (people, grid): log prior of those; the others' is people_prior
    people: int
    teams: int
    look_unit: Whole  # (looks,)
    look_week: Whole
    look_method: Whole
    look_who: Whole  # -1 where nobody is named
    look_team: Whole  # -1 where it is no dog
    look_found: NDArray[np.bool_]
    look_chance: Floats  # (looks, levels): chance of a find at central odds; of a false one at level 0
    look_parts: Floats  # (looks, levels, 2): share and rest of :class:`spread.posterior.looks.Look`
    look_grade: Whole  # 0 to 3 for trace to heavy; -1 where none was written down
    look_copied: Floats  # (looks, 2): how surely it repeats the look before, and whether that found something
    floor: float
    kinds: int  # treatments; the model holds as many again for units that resist


def tail_length(g: Seeing) -> int:
    """Return how many parameters the tail has."""
    return FIRST_ODDS + len(g.method_prior) + g.people + g.teams + 2 * len(g.silence)


_NOBODY = np.zeros(0, dtype=np.int64)
NOTHING = Seeing(
    static=np.zeros((0, 0, LEVELS)),
    silence=np.zeros((0, 0), dtype=np.int8),
    report=np.zeros(LEVELS),
    mix=np.zeros(LEVELS - 1),
    factor_prior=np.zeros((2, 0)),
    nothing_prior=np.zeros(0),
    shares=np.zeros((3, 2)),
    width_prior=np.zeros(0),
    people_prior=np.zeros((0, 0)),
    method_prior=np.zeros((0, 0)),
    team_prior=np.zeros(0),
    is_known=np.zeros(0, dtype=np.bool_),
    known_prior=np.zeros((0, 0)),
    people=0,
    teams=0,
    look_unit=_NOBODY,
    look_week=_NOBODY,
    look_method=_NOBODY,
    look_who=_NOBODY,
    look_team=_NOBODY,
    look_found=np.zeros(0, dtype=np.bool_),
    look_chance=np.zeros((0, LEVELS)),
    look_parts=np.zeros((0, LEVELS, 2)),
    look_grade=_NOBODY,
    look_copied=np.zeros((0, 2)),
    floor=0.0,
    kinds=0,
)
"""Of the same types, with nothing to learn."""


class Names(NamedTuple):
    """Whose odds the tail holds, in order."""

    methods: tuple[str, ...]
    people: tuple[str, ...]
    teams: tuple[str, ...]


class Odds(NamedTuple):
    """Typical learned factors on the odds of a find, and of a false alert; 1 for whoever is not in it.

    Parameters
    ----------
    methods, people, teams
        By name: of a find by a method and by a person, and of a team's false alerts.
    crew
        Of a find by somebody of whom it is not known who: the typical one of those who looked.
    nothing
        Factor on the chance that a clear unit is reported.
    """

    methods: Mapping[str, float] = MappingProxyType({})
    people: Mapping[str, float] = MappingProxyType({})
    teams: Mapping[str, float] = MappingProxyType({})
    crew: float = 1.0
    nothing: float = 1.0

    def of_record(self, record: Record) -> tuple[float, float]:
        """Return the factors of a look that was made; one that names nobody has its method's alone."""
        find = self.methods.get(record.method, 1.0) * self.people.get(record.by, 1.0)
        return find, self.teams.get(record.by, 1.0) if _is_alert(record) else 1.0

    def of_next(self, method: str, by: str = "") -> float:
        """Return the factor on the odds of a find of a look to come; ``by``: who will look, if known."""
        return self.methods.get(method, 1.0) * (self.people.get(by, 1.0) if by else self.crew)


NO_ODDS = Odds()


def odds_of(traits: Traits | None, names: Names | None) -> Odds:
    """Return what was learned of methods, people and teams; nothing where a fit learned none."""
    if traits is None or names is None:
        return NO_ODDS
    nothing, *logs = np.log(traits.draws[:, OF_NOTHING:]).mean(axis=0)
    methods, people = len(names.methods), len(names.people)
    parts = np.split(logs, [methods, methods + people])
    find, who, false = (
        dict(zip(of, map(float, np.exp(part)), strict=False)) for of, part in zip(names, parts, strict=True)
    )
    crew = float(np.exp(parts[1].mean())) if people else 1.0
    return Odds(find, who, false, crew, float(np.exp(nothing)))


class Traits(NamedTuple):
    """What was learned beside the rates.

    Parameters
    ----------
    draws
        Shape (K, ...): draws of the tail but for the flags of units.
    never, resist
        Shape (N,): chance that a unit never reports, that it resists treatment.
    """

    draws: Floats
    never: Floats
    resist: Floats


def gather(
    looks: Sequence[tuple[int, int, Record, Look]],
    likelihood: Floats,
    silence: NDArray[np.int8],
    kinds: int,
    start: Floats,
    firm: Mapping[str, tuple[float, float]] = MappingProxyType({}),
) -> tuple[Seeing, Names]:
    """Bring together what is learned beside the rates.

    Parameters
    ----------
    looks
        Unit, week, record and parts of every look in the window.
    likelihood
        Shape (N, T, levels): of everything but looks and the reports that ``silence`` tells of.
    silence
        Shape (N, T).
    kinds
        Distinct treatments of the log.
    start
        Shape (levels,): chance of each level at the start, before the log.
    firm
        What a firm's own buildings taught, in place of the general experience.
    """
    static = likelihood.copy()
    central = detection.report_chance()
    kept = []
    for i, t, record, look in looks:
        if look.outcome == "unsure":
            static[i, t] *= look.likelihood()
        else:
            kept.append((i, t, record, look))
    methods = tuple(sorted({record.method for _, _, record, _ in kept}))
    people = tuple(sorted({record.by for _, _, record, _ in kept if record.by}))
    teams = tuple(sorted({record.by for _, _, record, _ in kept if _is_alert(record)}))
    stack = np.array([[*look.found, *look.share, *look.rest] for *_, look in kept]).reshape(-1, 3, LEVELS)
    believed = believed_of(methods, firm)
    made = Seeing(
        static=static,
        silence=silence,
        report=central,
        mix=start[1:] / start[1:].sum() if start[1:].any() else np.full(LEVELS - 1, 1.0 / (LEVELS - 1)),
        factor_prior=np.stack(
            [
                _normal(np.log(FACTORS) - mean, sd)
                for mean, sd in (believed["report:light"], believed["report:heavy"])
            ]
        ),
        nothing_prior=_normal(np.log(ODDS), seeing.nothing_width()),
        shares=np.array(
            [
                believed["share:never"],
                believed["share:resist"],
                _beta(float(np.clip(start[1:].sum(), 1e-3, 0.999)), seeing.STARTS_CLEAR_OF),
            ]
        ),
        width_prior=_normal(np.log(WIDTHS / seeing.PEOPLE.central), 0.7),
        people_prior=np.stack([_normal(np.log(ODDS), width) for width in WIDTHS]),
        method_prior=np.array(
            [
                _normal(np.log(ODDS) - mean, sd)
                for mean, sd in (believed[f"odds:{method}"] for method in methods)
            ]
        ).reshape(-1, len(ODDS)),
        team_prior=_normal(np.log(ODDS), seeing.false_alert_width()),
        is_known=np.array([BY + name in firm for name in people], dtype=np.bool_),
        known_prior=np.array(
            [_normal(np.log(ODDS) - mean, sd) for mean, sd in (firm.get(BY + p, (0.0, 1.0)) for p in people)]
        ).reshape(-1, len(ODDS)),
        people=len(people),
        teams=len(teams),
        look_unit=np.array([i for i, *_ in kept], dtype=np.int64),
        look_week=np.array([t for _, t, *_ in kept], dtype=np.int64),
        look_method=np.array([methods.index(r.method) for _, _, r, _ in kept], dtype=np.int64),
        look_who=np.array([people.index(r.by) if r.by else -1 for _, _, r, _ in kept], dtype=np.int64),
        look_team=np.array(
            [teams.index(r.by) if _is_alert(r) else -1 for _, _, r, _ in kept], dtype=np.int64
        ),
        look_found=np.array([look.outcome == "yes" for *_, look in kept], dtype=np.bool_),
        look_chance=np.ascontiguousarray(stack[:, 0]),
        look_parts=np.ascontiguousarray(stack[:, 1:].transpose(0, 2, 1)),
        look_grade=np.array(
            [GRADES.index(g) if (g := look.grade) else -1 for *_, look in kept], dtype=np.int64
        ),
        look_copied=np.array([(look.copied, look.before) for *_, look in kept], dtype=np.float64).reshape(
            -1, 2
        ),
        floor=detection.LIKELIHOOD_FLOOR,
        kinds=kinds,
    )
    return made, Names(methods, people, teams)


def believed_of(
    methods: Sequence[str], firm: Mapping[str, tuple[float, float]] = MappingProxyType({})
) -> dict[str, tuple[float, float]]:
    """Return what is believed of reporting, treatment and each method before a log, by name.

    Mean and standard deviation of a logarithm, or of a share the two numbers of a Beta distribution, as in
    :class:`spread.trade.experience.Experience`; ``firm`` stands in place of the general experience.
    """
    light, heavy = seeing.report_widths()
    # Central chances are means over everybody: who does report is readier by as much as others never do.
    ready = -float(np.log(1.0 - seeing.NEVER_REPORTS.central))
    general = {
        "report:light": (ready, light),
        "report:heavy": (ready, heavy),
        "share:never": _beta(seeing.NEVER_REPORTS.central, 6.0),
        "share:resist": _beta(seeing.RESISTS.central, 10.0),
        **{f"odds:{method}": (0.0, seeing.odds_width(method)) for method in methods},
    }
    return {name: firm.get(name, pair) for name, pair in general.items()}


def _is_alert(record: Record) -> bool:
    """Return whether a look's yes is an alert, which a dog may give for nothing."""
    return LOOKING[record.method].usual_sign == "alert"


def _beta(central: float, strength: float) -> tuple[float, float]:
    return central * strength, (1.0 - central) * strength


def _normal(values: Floats, width: float) -> Floats:
    """Return the log of a normal prior over the points of a grid, summing to one."""
    log = -0.5 * (values / width) ** 2
    return np.asarray(log - np.log(np.exp(log).sum()))


def first_tail(g: Seeing) -> Floats:
    """Return a tail at the central values: everybody reports, nobody resists."""
    tail = np.ones(tail_length(g))
    tail[[NEVER, RESIST, BEGAN]] = g.shares[:, 0] / g.shares.sum(axis=1)
    tail[PEOPLE] = WIDTHS[np.argmax(g.width_prior)]
    tail[len(tail) - 2 * len(g.silence) :] = 0.0
    return tail


def resisting(effects: Floats) -> Floats:
    """Return what treatments do, then what they do in a unit that resists, (2 kinds, levels, levels)."""
    weak = np.eye(LEVELS) + seeing.RESIST_EFFECT * (effects - np.eye(LEVELS))
    return np.concatenate([effects, weak])

"""The programme simulation once more, in plain Python: slow, readable, and written apart from the kernel.

It shares with the package the facts of the trade, the programme as data, the clean visits that its clearance
asks for and the rule that a number is a hash of (seed, run, week, unit, name of the decision); nothing else.
One object a unit, dictionaries for counts, no arrays. It is the oracle of the kernel's results and the
yardstick of its speed.
"""

from __future__ import annotations

import hashlib
import math
from collections import Counter
from dataclasses import dataclass, field

import numpy as np

from spread.programmes.clearing import ending_of
from spread.trade.clearance import ClearanceRule
from spread.trade.registry import LOOKING, MONITORS
from spread.trade.registry import TREATMENTS as CURES

MASK = (1 << 64) - 1
GOLDEN = 0x9E3779B97F4A7C15
METHODS = (*LOOKING, "protocol")
TREATMENTS = tuple(CURES)
COLUMNS = (
    "visits", "knocks", "shut doors", "refusals", "given up", "reports", "false reports", "alerts",
    "false alerts", "confirming looks", "finds", "false finds", "closed", "closed while infested", "relapses",
    "new infestations", "new units infested", "infested unit-weeks", "units infested", "units found",
    "notices", "weeks with visits", "vacant checks", "move-ins", "survey looks", "ranked looks",
    "put off", "encasements",
    *(f"looks: {method}" for method in METHODS),
    *(f"checks: {method}" for method in METHODS),
    *(f"treatments: {method}, {size}" for method in TREATMENTS for size in ("light", "moderate", "heavy")),
)  # fmt: skip
"""What :mod:`spread.programmes.columns` numbers, by name."""
LEFT_STANDING = {*MONITORS, "protocol"}
UNCONFIRMED = {method for method, row in LOOKING.items() if row.hearsay or row.confirmed_by}


def scramble(z):
    z = ((z ^ (z >> 30)) * 0xBF58476D1CE4E5B9) & MASK
    z = ((z ^ (z >> 27)) * 0x94D049BB133111EB) & MASK
    return z ^ (z >> 31)


def name_key(name):
    return int.from_bytes(hashlib.blake2b(name.encode(), digest_size=8).digest(), "little")


def luck_of(seed, run, week):
    run_key = scramble((scramble((seed + GOLDEN) & MASK) + GOLDEN * (run + 1)) & MASK)
    key = scramble((run_key + GOLDEN * (week + 1)) & MASK)

    def luck(unit, decision):
        z = scramble((key + name_key(decision) + GOLDEN * (unit + 1)) & MASK)
        return (z >> 11) / 2.0**53

    return luck


@dataclass
class Unit:
    number: int
    level: int
    empty: bool
    weeks_empty: int
    course: dict | None
    quiet_until: int
    chances: list
    new_people: bool = False
    willing: float = 1.0
    shut: float = 0.0
    refuses: bool = False
    look: dict | None = None
    monitor: dict | None = None
    closed: int | None = None
    looked: int | None = None
    avoid_until: int = 0
    treatment: str | None = None
    reported: bool = False
    ever: bool = False
    found: bool = False
    encased: bool = False
    contacts: list = field(default_factory=list)


class PlainRun:
    """One run of one programme."""

    def __init__(self, begin, tables, programme, rings, *, seed, run, pace, rule=None):
        self.begin, self.t, self.p, self.rings = begin, tables, programme, rings
        self.seed, self.run, self.pace = seed, run, pace
        self.ending = ending_of(programme, rule or ClearanceRule())
        self.counts = Counter()
        self.ranks = programme.ranked is not None
        self.units = []
        rates = begin.rates[run]
        self.brought_in, self.mixing = rates[0], rates[1]
        for i in range(begin.levels.shape[1]):
            course = None
            if begin.case[i]:
                course = {
                    "due": int(begin.case_due[i]),
                    "treatments": int(begin.case_visits[i]),
                    "clean": int(begin.case_clean[i]) * self.ending.per_period,
                    "heavy": bool(begin.case_heavy[i]),
                }
            unit = Unit(
                i, int(begin.levels[run, i]), bool(begin.vacant[i]), int(begin.empty_weeks[i]), course,
                int(begin.hold_until[i]), [float(x) for x in begin.belief[i]],
            )  # fmt: skip
            for place in range(begin.indptr[i], begin.indptr[i + 1]):
                exposure = begin.exposure[place]
                truly = sum(e * r for e, r in zip(exposure, rates[2:], strict=True))
                firmly = sum(e * r for e, r in zip(exposure, begin.mean_rates[2:], strict=True))
                unit.contacts.append((int(begin.indices[place]), truly, firmly))
            unit.ever = unit.level > 0
            unit.found = unit.ever and course is not None
            self.move_in(unit, -1)
            self.units.append(unit)

    def move_in(self, unit, week):
        luck = luck_of(self.seed, self.run, (1 << 20) + week + 1)
        first = 1.0 - luck(unit.number, "willing")
        second = 1.0 - luck(unit.number, "willing too")
        unit.willing = -0.5 * math.log(first * second)
        table = self.begin.shut[unit.number if week < 0 else -1]
        unit.shut = table[int(luck(unit.number, "shut") * len(table))]
        unit.refuses = luck(unit.number, "refuses") < self.begin.refuses

    def go(self, weeks):
        """Run for some weeks; return units infested by week, courses by week and visits by week."""
        infested, courses, visits = [], [], []
        for week in range(weeks):
            infested.append(sum(u.level > 0 for u in self.units))
            courses.append(sum(u.course is not None for u in self.units))
            self.counts["infested unit-weeks"] += infested[-1]
            self.luck = luck_of(self.seed, self.run, week)
            before = self.counts["visits"]
            self.week = week
            self.turn_over_and_report()
            self.call_survey()
            self.call_watch()
            if self.ranks:
                self.listen()
                self.call_ranked()
            for unit in self.units:
                if unit.look and unit.look["due"] == week:
                    self.make_look(unit)
                elif unit.monitor and unit.monitor["due"] == week:
                    self.fetch(unit)
                if unit.course and unit.course["due"] == week:
                    self.follow_up(unit)
            visits.append(self.counts["visits"] - before)
            self.counts["weeks with visits"] += visits[-1] > 0
            if self.ranks:
                self.expect()
            self.live()
        infested.append(sum(u.level > 0 for u in self.units))
        courses.append(sum(u.course is not None for u in self.units))
        self.counts["units infested"] = sum(u.ever for u in self.units)
        self.counts["units found"] = sum(u.found for u in self.units)
        return infested, courses, visits

    def put_down(self, unit, due, why, method, tries):
        if unit.course or unit.monitor or (unit.look and unit.look["due"] <= due):
            return False
        unit.look = {"due": due, "why": why, "method": method, "tries": tries}
        return True

    def write_notice(self, unit):
        self.counts["notices"] += self.p.notice and not unit.empty

    def turn_over_and_report(self):
        for unit in self.units:
            unit.new_people = unit.reported = False
            luck = self.luck(unit.number, "turnover")
            if unit.empty:
                if luck < 7.0 / 60.0:
                    unit.empty, unit.new_people = False, True
                    self.counts["move-ins"] += 1
                    self.move_in(unit, self.week)
            elif luck < 1.0 / 104.0:
                unit.empty, unit.weeks_empty, unit.encased = True, 0, False
                if self.p.vacant and self.put_down(unit, self.week, "vacant", self.p.vacant.method, 1):
                    self.counts["vacant checks"] += 1
            chance = self.t.report[int(unit.empty)][unit.level] * (1.0 if unit.empty else unit.willing)
            if self.luck(unit.number, "report") >= chance:
                continue
            if unit.course or unit.monitor or (unit.look and unit.look["why"] in ("complaint", "confirm")):
                continue
            unit.reported = True
            unit.quiet_until = self.week + 8
            self.counts["reports"] += 1
            self.counts["false reports"] += unit.level == 0
            if self.p.complaint:
                rule = self.p.complaint
                wait = int(self.luck(unit.number, "delay") * (rule.within_weeks + 1))
                self.put_down(unit, self.week + wait, "complaint", rule.method, rule.tries)

    def call_survey(self):
        rule = self.p.survey
        if rule is None or self.week < rule.from_week:
            return
        number, rest = divmod(self.week - rule.from_week, rule.every_weeks)
        if rest or (rule.times and number >= rule.times):
            return
        for unit in self.units:
            due = self.week + unit.number * rule.over_weeks // len(self.units)
            if self.put_down(unit, due, "survey", rule.method, rule.tries):
                self.write_notice(unit)

    def call_watch(self):
        rule = self.p.watch
        for unit in self.units if rule else ():
            since = self.week - unit.closed if unit.closed is not None else 0
            asked = 1 <= since <= rule.weeks and since % rule.every_weeks == 0
            if asked and self.put_down(unit, self.week, "watch", rule.method, rule.tries):
                self.write_notice(unit)

    def call_ranked(self):
        rule = self.p.ranked
        since = self.week - rule.from_week
        if since < 0 or since % rule.every_weeks:
            return
        found = self.t.found[METHODS.index(rule.method)]
        scores = []
        for unit in self.units:
            if unit.course or unit.monitor or unit.look or unit.avoid_until > self.week:
                continue
            open_ = 1.0 - self.begin.shut[unit.number].mean()
            chance = sum(unit.chances[a] * found[a] for a in range(1, 5))
            scores.append(((1.0 if unit.empty else open_) * chance, -unit.number, open_))
        scores.sort(reverse=True)
        left = rule.minutes
        for place, (_, minus, open_) in enumerate(scores):
            if rule.doors:
                if place >= rule.doors:
                    break
            else:
                left -= self.pace.knock + open_ * self.pace.look[rule.method]
                if left < 0:
                    break
            unit = self.units[-minus]
            self.put_down(unit, self.week, "ranked", rule.method, rule.tries)
            self.write_notice(unit)

    def knock(self, unit):
        self.counts["visits"] += 1
        if unit.empty:
            return "open"
        if unit.refuses:
            self.counts["refusals"] += 1
            unit.avoid_until = self.week + 26
            return "refused"
        if self.luck(unit.number, "access") < unit.shut:
            self.counts["shut doors"] += 1
            return "shut"
        return "open"

    def look_at(self, unit, method):
        m = METHODS.index(method)
        name = f"{'monitor' if method in MONITORS else 'look'}:{method}"
        if self.luck(unit.number, f"{name}:unsure") < self.t.unsure[m][unit.level]:
            answer = "unsure"
        else:
            answer = "yes" if self.luck(unit.number, name) < self.t.found[m][unit.level] else "no"
        self.learn(unit, self.t.likely[m][("no", "yes", "unsure").index(answer)])
        return answer

    def learn(self, unit, likelihood):
        if self.ranks:
            raw = [p * like for p, like in zip(unit.chances, likelihood, strict=True)]
            unit.chances = [p / sum(raw) for p in raw]

    def make_look(self, unit):
        due, unit.look = unit.look, None
        method = due["method"]
        door = self.knock(unit)
        if door != "open":
            self.counts["knocks"] += 1
            if door == "shut" and due["tries"] > 1:
                unit.look = {**due, "due": self.week + 1, "tries": due["tries"] - 1}
            else:
                self.counts["given up"] += 1
            return
        self.counts["knocks"] += method != "protocol"
        self.counts[f"looks: {method}"] += 1
        self.counts["survey looks"] += due["why"] == "survey"
        self.counts["ranked looks"] += due["why"] == "ranked"
        if method == "protocol" and self.look_at(unit, "brief-visual") == "yes":
            self.act_on(unit, "brief-visual", "yes", due["why"])
        elif method in LEFT_STANDING:
            unit.monitor = {"due": self.week + 2, "method": method, "why": due["why"]}
        else:
            self.act_on(unit, method, self.look_at(unit, method), due["why"])

    def fetch(self, unit):
        method, why = unit.monitor["method"], unit.monitor["why"]
        door = self.knock(unit)
        if door != "open":
            self.counts["knocks"] += 1
            unit.monitor["due"] = self.week + 1
            return
        self.counts["knocks"] += method != "protocol"
        self.counts[f"checks: {method}"] += 1
        unit.monitor = None
        method = "interceptors" if method == "protocol" else method
        self.act_on(unit, method, self.look_at(unit, method), why)

    def act_on(self, unit, method, answer, why):
        unit.looked = self.week
        if answer == "yes" and method not in UNCONFIRMED:
            self.begin_course(unit)
            return
        if answer == "yes":
            self.counts["alerts"] += 1
            self.counts["false alerts"] += unit.level == 0
        if answer != "no" and why != "confirm":
            self.counts["confirming looks"] += 1
            if self.put_down(unit, self.week + 1, "confirm", self.p.confirm, 3):
                self.write_notice(unit)

    def begin_course(self, unit):
        self.counts["finds" if unit.level else "false finds"] += 1
        unit.found = unit.found or unit.level > 0
        if unit.closed is not None and self.week - unit.closed <= 26:
            self.counts["relapses"] += 1
        due = self.week + self.p.treatment.within_weeks
        unit.course = {"due": due, "treatments": 0, "clean": 0, "heavy": unit.level == 4}
        unit.look = unit.monitor = None
        unit.quiet_until = self.week + 8
        if self.p.ring is None:
            return
        for number in self.rings[unit.number]:
            other = self.units[number]
            if other.looked is None or self.week - other.looked > 1:
                wait = 1 + int(self.luck(number, "ring") * self.p.ring.within_weeks)
                if self.put_down(other, self.week + wait, "ring", self.p.ring.method, self.p.ring.tries):
                    self.write_notice(other)

    def follow_up(self, unit):
        course, every = unit.course, self.p.treatment.every_weeks
        door = self.knock(unit)
        self.counts["knocks"] += 1
        self.write_notice(unit)
        if door != "open":
            course["due"] = self.week + (1 if door == "shut" else every)
            return
        course["due"] = self.week + every
        treats = course["treatments"] == 0
        if not treats:
            self.counts["looks: brief-visual"] += 1
            treats = self.look_at(unit, "brief-visual") != "no"
            if self.ending.monitor:
                self.counts[f"checks: {self.ending.monitor}"] += 1
                caught = self.look_at(unit, self.ending.monitor) == "yes"
                treats = treats or caught
            unit.looked = self.week
        elif self.ending.monitor:
            self.counts[f"looks: {self.ending.monitor}"] += 1
        if treats:
            number, heat = course["treatments"], self.p.treatment.heat_after
            by_heat = heat and number and number % heat == 0
            unit.treatment = "whole-room-heat" if by_heat else self.p.treatment.method
            course["treatments"], course["clean"] = number + 1, 0
            if self.p.treatment.encase and number == 0 and not unit.empty and not unit.encased:
                unit.encased = True
                self.counts["encasements"] += 1
            course["heavy"] = course["heavy"] or unit.level == 4
            unit.quiet_until = self.week + 8
            size = {3: "moderate", 4: "heavy"}.get(unit.level, "light")
            self.counts[f"treatments: {unit.treatment}, {size}"] += 1
            return
        course["clean"] += 1
        enough = self.ending.heavy_visits if course["heavy"] else self.ending.visits
        if course["clean"] >= enough:
            unit.course, unit.closed = None, self.week
            self.counts["closed"] += 1
            self.counts["closed while infested"] += unit.level > 0

    def listen(self):
        for unit in self.units:
            row = self.t.report[int(unit.empty)]
            if unit.reported:
                self.learn(unit, row)
            elif unit.quiet_until <= self.week:
                self.learn(unit, 1.0 - row)

    def factors(self, unit):
        _, onto_empty, from_empty, weeks = self.t.odds
        return (
            onto_empty if unit.empty else 1.0,
            from_empty if unit.empty and unit.weeks_empty < weeks else 1.0,
        )

    def expect(self):
        """Move the firm's chances a week on, units taken as independent."""
        sheds = [
            sum(p * s for p, s in zip(u.chances, self.t.shedding, strict=True)) * self.factors(u)[1]
            for u in self.units
        ]
        b, g = self.begin.mean_rates[0], self.begin.mean_rates[1]
        after = []
        for unit in self.units:
            push = sum(sheds[j] * firmly for j, _, firmly in unit.contacts)
            push += g / len(self.units) * (sum(sheds) - sheds[unit.number])
            hazard = b + self.factors(unit)[0] * push + (self.t.odds[0] if unit.new_people else 0.0)
            step = np.array(self.t.growth[int(unit.empty)])
            step[0] = 0.0
            step[0, 0], step[0, 1] = math.exp(-hazard), 1.0 - math.exp(-hazard)
            chances = np.array(unit.chances) @ step
            if unit.treatment:
                chances = chances @ self.t.effect[TREATMENTS.index(unit.treatment)]
            after.append(list(chances))
        for unit, chances in zip(self.units, after, strict=True):
            unit.chances = chances

    def live(self):
        sheds = [self.t.shedding[u.level] * self.factors(u)[1] for u in self.units]
        everywhere = sum(sheds) * self.mixing / len(self.units)
        after = []
        for unit in self.units:
            if unit.level == 0:
                push = everywhere + sum(sheds[j] * truly for j, truly, _ in unit.contacts if sheds[j])
                hazard = self.brought_in + self.factors(unit)[0] * push
                hazard += self.t.odds[0] if unit.new_people else 0.0
                level = int(self.luck(unit.number, "spread") < 1.0 - math.exp(-hazard))
                self.counts["new infestations"] += level
                self.counts["new units infested"] += level and not unit.ever
                unit.ever = unit.ever or level > 0
            else:
                rows = self.t.grow[int(unit.empty)][unit.level]
                level = pick(rows, self.luck(unit.number, "growth"))
            if unit.treatment:
                rows = self.t.act[TREATMENTS.index(unit.treatment)][level]
                level = pick(rows, self.luck(unit.number, "treatment"))
            after.append(level)
        for unit, level in zip(self.units, after, strict=True):
            unit.level, unit.treatment = level, None
            unit.weeks_empty += unit.empty


def pick(reach, luck):
    return next((level for level in range(4) if luck <= reach[level]), 4)

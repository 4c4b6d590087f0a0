"""Notices to residents: before an entry, on how to get ready, and of what was found.

A notice to a neighbour is made from the neighbour's own unit and the building's words alone. Whose report
or find it comes from is not among what it is made from.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace

from spread.building import Building
from spread.contacts.relations import ring_around
from spread.decisions.case.case import Case, case_of
from spread.decisions.duties.deadlines import holidays_of, notice_before
from spread.decisions.duties.owed import neighbours_of, notice_for
from spread.errors import SpreadError
from spread.plan.access import minute_of
from spread.records.sense import guess
from spread.report.document import Document, Heading, PageBreak
from spread.report.own_words import read_own_words
from spread.report.wording import Wording, load_wording
from spread.trade.rule_set import EntryNotice, RuleSet
from spread.words.paper import time_of_day
from spread.words.voice import Language, Voice

KINDS = ("entry", "prepare", "result")
PURPOSES = ("inspection", "treatment")
RECENT_DAYS = 28
"""A neighbour looked at within so many days gets its own result (judgement, no source)."""
_STEPS = {"inspection": "inspect", "treatment": "begin-treatment"}


@dataclass(frozen=True, slots=True)
class Visit:
    """What a notice is about.

    ``kind``: one of :data:`KINDS`. ``when``: the day of the visit; for a result the day up to which the log
    is read. ``on``: the day the notice is made. ``purpose``: one of :data:`PURPOSES`: what the visit to the
    unit itself is for. Neighbours are looked at. ``window``: First and last minute of the visit after
    midnight, or None.
    """

    kind: str
    when: dt.date
    on: dt.date
    purpose: str = "inspection"
    window: tuple[int, int] | None = None


@dataclass(frozen=True, slots=True)
class Notice:
    """A notice for one unit.

    ``unit``: whose door it goes to. ``name``: which notice it is, of :data:`spread.report.wording.NOTICES`.
    ``document``: what it says.
    """

    unit: str
    name: str
    document: Document


def notices_for(
    building: Building,
    rules: RuleSet,
    unit: str,
    visit: Visit,
    *,
    language: Language = "en",
    neighbours: bool = False,
) -> tuple[Notice, ...]:
    """Make the notice of a unit and, if asked, those of its neighbours under a rule set.

    Raises SpreadError for an unknown unit, for a result without a look in the log, or with every problem of a
    file.

    ``building``: the building; its folder may hold ``notices.toml`` and ``notices-en.toml``. ``rules``: whose
    neighbours and whose notice before an entry. ``visit``: what it is about. ``language``: the language of
    the notices. ``neighbours``: whether the units around it get one too; a set of rules that names no
    neighbours leaves the ring of ``building.toml``.
    """
    if unit not in building.plan.units:
        fix = guess(unit, building.plan.units, "use a unit code of the plan")
        raise SpreadError.at(building.name, "", f"there is no unit {unit[:40]!r}", fix)
    maker = _Maker(building, rules, visit, load_wording(language, building.folder))
    others = around(building, rules, unit) if neighbours else ()
    return (maker.of_the_unit(unit), *map(maker.of_a_neighbour, others))


def notices_together(
    building: Building,
    rules: RuleSet,
    purposes: Mapping[str, str],
    visit: Visit,
    *,
    language: Language = "en",
) -> Document:
    """Return the notices of some units as one document, a page each, in the order given.

    Raises SpreadError with every problem of a file of wording, and where no unit is given.

    ``purposes``: what each unit is entered for, of :data:`PURPOSES`. The rest is as in :func:`notices_for`.
    """
    if not purposes:
        fix = "choose a day for which notices are still to be given"
        raise SpreadError.at(building.name, "", "no unit of that day lacks a notice of entry", fix)
    wording, made = load_wording(language, building.folder), []
    for unit, purpose in purposes.items():
        maker = _Maker(building, rules, replace(visit, purpose=purpose), wording)
        made.append(maker.of_the_unit(unit).document)
    first, *others = made
    pages = (block for one in others for block in (PageBreak(), Heading(one.title), *one.blocks))
    return replace(first, blocks=(*first.blocks, *pages))


def around(building: Building, rules: RuleSet, unit: str) -> tuple[str, ...]:
    """Return the neighbours of a unit under a rule set, or by the ring of the settings if it names none."""
    settings = building.settings
    ring = (
        neighbours_of(building.contacts, unit, rules.neighbours)
        if rules.neighbours is not None
        else ring_around(building.contacts, unit, rule=settings.ring, across=settings.across)
    )
    return tuple(ring)


def hand_out_by(
    rules: RuleSet, visit: Visit, *, neighbours: bool = False
) -> tuple[dt.date, EntryNotice] | None:
    """Return the last day to hand out an entry notice and the rule that says so; None if no rule does."""
    found = [
        rule
        for of in (("source", "neighbours") if neighbours else ("source",))
        if (rule := _rule(rules, visit, of)) is not None
    ]
    if visit.kind != "entry" or not found:
        return None
    is_holiday = holidays_of(rules.calendar)
    days = [(notice_before(visit.when, rule.lead, is_holiday), rule) for rule in found]
    return min(days, key=lambda pair: pair[0])


def read_window(text: str) -> tuple[int, int] | None:
    """Read ``09:00-12:00`` as two minutes after midnight; None where it is no window."""
    first, _, last = text.partition("-")
    begins, ends = minute_of(first.strip()), minute_of(last.strip())
    return (begins, ends) if begins is not None and ends is not None and begins < ends else None


class _Maker:
    """Makes the notices of one visit."""

    def __init__(self, building: Building, rules: RuleSet, visit: Visit, wording: Wording) -> None:
        self.building, self.rules, self.visit, self.wording = building, rules, visit, wording
        self.own = asdict(read_own_words(building.folder, wording.language))
        self.day = Voice(wording.language).long_day

    def of_the_unit(self, unit: str) -> Notice:
        visit = self.visit
        if visit.kind != "result":
            return self._notice(unit, f"{visit.kind}-{visit.purpose}", self._coming("source"))
        case = self._case(unit)
        if case.look is None:
            what = f"no look at unit {unit} is in the log up to {visit.when.isoformat()}"
            fix = "record the look first, with the sleeping places that were seen"
            raise SpreadError.at(self.building.name, "", what, fix)
        return self._result(case)

    def of_a_neighbour(self, unit: str) -> Notice:
        visit = self.visit
        if visit.kind != "result":
            # A home with a case of its own is not told that nothing is known of it.
            calm = "entry-neighbour" if self._case(unit).calm else "entry-inspection"
            name = calm if visit.kind == "entry" else "prepare-inspection"
            return self._notice(unit, name, self._coming("neighbours"))
        case = self._case(unit)
        recent = case.look is not None and (visit.when - case.look.when).days <= RECENT_DAYS
        if not case.calm or recent:
            return self._result(case)
        return self._notice(unit, "result-neighbour", {"when": self.day(visit.when)})

    def _case(self, unit: str) -> Case:
        building = self.building
        return case_of(building.log.of(unit), unit, self.visit.when, building.settings.clearance)

    def _result(self, case: Case) -> Notice:
        """Tell a unit of its whole case: the last look speaks only where nothing weightier came before it."""
        values = {}
        for name, proof in (("found_on", case.find), ("treated_on", case.treatment)):
            if proof is not None:
                values[name] = self.day(proof.when)
        told = case.look
        if case.outcome == "find":
            said = "found"
        elif case.stage == "infested":
            said, told = "found", case.find
        elif case.stage == "open":
            said = "open"
        else:
            said = "not-found" if case.calm and case.outcome == "no" else "not-sure"
        if told is not None:
            look = self.building.log.by_id[told.row]
            values |= {"looked_on": self.day(look.when), "method": self.wording.methods[look.method]}
            last = {"no": "saw_nothing", "unsure": "saw_unsure"}.get(case.outcome, "")
            values["last"] = self.wording.words.get(last, "")
        return self._notice(case.unit, f"result-{said}", values)

    def _coming(self, of: str) -> dict[str, str]:
        """Return the words of a visit that is to come."""
        visit, words, voice = self.visit, self.wording.words, Voice(self.wording.language)
        time = words["no_window"]
        if visit.window is not None:
            begins, ends = (time_of_day(minute, voice) for minute in visit.window)
            time = words["from_to"].replace("{from}", begins).replace("{to}", ends)
        values = {"when": self.day(visit.when), "time": time}
        rule = _rule(self.rules, visit, of)
        if rule is not None and rule.lead.amount:
            lead = words[rule.lead.counted_in.replace(" ", "_")]
            values["lead"] = lead.replace("{number}", str(rule.lead.amount))
        return values

    def _notice(self, unit: str, name: str, values: Mapping[str, str]) -> Notice:
        filled = {**self.own, **values, "unit": unit, "building": self.building.name}
        title, blocks = self.wording.fill(name, filled)
        document = Document(
            title,
            blocks,
            made_on=self.visit.on,
            language=self.wording.language,
            building=self.building.name,
            footer=" ".join(filter(None, (self.wording.words["footer"], self.wording.words["unread"]))),
            large=True,
        )
        return Notice(unit, name, document)


def _rule(rules: RuleSet, visit: Visit, of: str) -> EntryNotice | None:
    """Return the notice that a rule set asks for before a visit."""
    return notice_for(rules.notices, _STEPS[visit.purpose if of == "source" else "inspection"], of)

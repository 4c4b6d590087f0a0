"""Where a unit stands between a find and the end of the watch, in words: what it lacks, when to come again.

These sentences clear and postpone: they say what the counts of ``spread/decisions/case`` hold, and no more.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from spread.decisions.case.clearance import Lack, NotCounted, Sign
from spread.decisions.case.followup import IN_FOLLOWUP, FollowUp, revisits
from spread.decisions.case.visits import Visit
from spread.facts import as_json
from spread.trade.clearance import ClearanceRule
from spread.trade.development import COOLEST_KNOWN
from spread.trade.registry import MONITORS
from spread.words.saying import say
from spread.words.terms import place_name, several
from spread.words.voice import ENGLISH, Voice, upper


@say.register
def _(fact: Sign, voice: Voice) -> str:
    day = voice.day(fact.day)
    return {
        "find": voice.text("the find of {day}", day=day),
        "treatment": voice.text("the treatment of {day}", day=day),
        "report": voice.text("the report of {day}", day=day),
        "alert": voice.text("the alert of {day}", day=day),
        "unsure": voice.text("the look that could not tell of {day}", day=day),
    }[fact.kind]


@say.register
def _(fact: Lack, voice: Voice) -> str:
    """Say what is missing so that it can follow "it lacks"."""
    return _LACKS[fact.code](fact, voice)


def _treatment(_: Lack, voice: Voice) -> str:
    return voice.text("a treatment since the last find, or a row that corrects the find")


def _periods(fact: Lack, voice: Voice) -> str:
    given = {"count": voice.count(fact.more), "days": fact.days, "have": fact.have, "needed": fact.needed}
    if fact.have:
        return voice.many(
            "{count} more clean {days}-day period ({have} of {needed})",
            "{count} more clean {days}-day periods ({have} of {needed})",
            fact.more,
            **given,
        )
    return voice.many(
        "{count} clean {days}-day period ({have} of {needed})",
        "{count} clean {days}-day periods ({have} of {needed})",
        fact.more,
        **given,
    )


def _first_look(fact: Lack, voice: Voice) -> str:
    return voice.text("clean looks by eye (none of {count})", count=voice.count(fact.needed))


def _last_look(fact: Lack, voice: Voice) -> str:
    if fact.day is None:
        return voice.text("a clean look by eye at the end of the last period, a period after the first")
    day = voice.day(fact.day)
    return voice.text("a clean look by eye on or after {day}, a period after the first", day=day)


def _looks(fact: Lack, voice: Voice) -> str:
    return voice.many(
        "{count} more clean look by eye",
        "{count} more clean looks by eye",
        fact.more,
        count=voice.count(fact.more),
    )


def _encasements(fact: Lack, voice: Voice) -> str:
    if not fact.covers:
        return voice.text("a record since the treatment that the encasements are intact")
    said = [_cover(place, day, state, voice) for place, day, state in fact.covers]
    return voice.text("intact encasements ({seen})", seen=voice.joined(said))


def _cover(place: str, day: dt.date, state: str, voice: Voice) -> str:
    given = {"state": voice.term("state", state), "day": voice.day(day)}
    if place:
        return voice.text("{state} at {place} on {day}", place=place_name(place, voice), **given)
    return voice.text("{state} on {day}", **given)


def _figures(_: Lack, voice: Voice) -> str:
    return voice.text("a chance that is settled: the chains of the fit do not agree yet")


def _chance(fact: Lack, voice: Voice) -> str:
    most, now = voice.percent(fact.most, 1), voice.percent(fact.chance, 1)
    return voice.text("a chance of {most} or less (the model says {now})", most=most, now=now)


_LACKS = {
    "treatment": _treatment,
    "periods": _periods,
    "first-look": _first_look,
    "last-look": _last_look,
    "looks": _looks,
    "encasements": _encasements,
    "figures": _figures,
    "chance": _chance,
}


@say.register
def _(fact: NotCounted, voice: Voice) -> str:
    day = voice.day(fact.day)
    if fact.why == "extent":
        return voice.text("{day} is not counted: the home was parted or joined with another since.", day=day)
    if fact.why == "eggs":
        return voice.text(
            "The look of {day} is not counted: eggs may hatch up to {days} days after the treatment.",
            day=day,
            days=fact.needed,
        )
    if fact.why == "cool":
        return voice.text(
            "The look of {day} is not counted: at {celsius} C nobody knows when the last eggs hatch. Warm "
            "the rooms to {least} C or more, and count from a treatment in warm rooms.",
            day=day,
            celsius=voice.number(fact.celsius, 1),
            least=f"{COOLEST_KNOWN:g}",
        )
    if fact.why == "no-items":
        return voice.text(
            "The look of {day} is not counted: it does not say which parts of the bed were seen.", day=day
        )
    if fact.why == "unseen":
        return voice.text(
            "The look of {day} is not counted: it leaves out {rows}.",
            day=day,
            rows=voice.joined([say(row, voice) for row in fact.rows]),
        )
    those = several(fact.method, voice) if fact.method in MONITORS else voice.text("these traps")
    return {
        "method": voice.text(
            "The period to {day} is not counted: {traps} do not count for a period.", day=day, traps=those
        ),
        "no-days": voice.text("The period to {day} is not counted: its days are not written.", day=day),
        "short": voice.text(
            "The period to {day} is not counted: {days} days are fewer than {needed}.",
            day=day,
            days=fact.days,
            needed=fact.needed,
        ),
        "not-set": voice.text(
            "The period to {day} is not counted: no row says that traps stood all through it.", day=day
        ),
        "over-period": voice.text(
            "The period to {day} is not counted: it began before the one before it had ended.", day=day
        ),
        "over-sign": voice.text(
            "The period to {day} is not counted: it began before the last sign.", day=day
        ),
        "displaced": voice.text(
            "The period to {day} is not counted: traps were displaced or missing.", day=day
        ),
    }[fact.why]


@say.register
def _(fact: Visit, voice: Voice) -> str:
    """Say why a visit is then; what was owed before it, whose days hold, comes first."""
    if fact.before is not None:
        return f"{say(fact.before, voice)} {say(replace(fact, before=None), voice)}"
    after = voice.day(fact.after)
    if fact.why == "not-treated":
        return voice.text("The find of {day} has not been treated.", day=after)
    if fact.why == "nobody-looked":
        return voice.text("Nobody has looked since {sign}.", sign=_since(fact, voice))
    if fact.why == "period":
        return voice.text("{days} days after the visit of {day}.", days=fact.days, day=after)
    if fact.why == "watch":
        assert fact.until is not None
        return voice.text(
            "{days} days after the visit of {day}, to keep watch until {until}.",
            days=fact.days,
            day=after,
            until=voice.day(fact.until),
        )
    celsius = voice.number(fact.celsius, 0 if float(fact.celsius).is_integer() else 1)
    said = {
        "first": (fact.earliest - fact.after).days,
        "last": (fact.latest - fact.after).days,
        "sign": _since(fact, voice),
        "celsius": celsius,
    }
    if fact.hatched:
        told = [
            voice.text(
                "{first} to {last} days after {sign}: by then its eggs have hatched, and new adults do not "
                "lay yet (rooms at {celsius} C).",
                **said,
            )
        ]
    else:
        told = [
            voice.text(
                "{first} to {last} days after {sign}: rooms at {celsius} C, in which nobody knows when the "
                "last eggs hatch, so that a clean look counts for nothing yet; warm them to {least} C or "
                "more.",
                **said,
                least=f"{COOLEST_KNOWN:g}",
            )
        ]
    if fact.too_cool is not None:
        told.append(
            voice.text(
                "Below {celsius} C eggs wait and do not hatch: warm the rooms first.",
                celsius=f"{fact.too_cool:g}",
            )
        )
    if fact.day_number is not None:
        told.append(
            voice.text(
                "It is day {number}: new adults may lay, so take it as a fresh start.", number=fact.day_number
            )
        )
    return " ".join(told)


def _since(visit: Visit, voice: Voice) -> str:
    assert visit.sign is not None
    return say(visit.sign, voice)


def window_words(visit: Visit, on: dt.date, voice: Voice) -> str:
    """Return when a visit is on time and how late it is, such as ``due now: Mon 5 ... to Mon 12 ...``."""
    first, last = voice.day(visit.earliest), voice.day(visit.latest)
    if visit.status == "overdue":
        late = days_late((on - visit.latest).days, voice)
        return voice.text("{late}: the window was {first} to {last}", late=late, first=first, last=last)
    if visit.status == "due":
        return voice.text("due now: {first} to {last}", first=first, last=last)
    return voice.text("coming: {first} to {last}", first=first, last=last)


def days_late(days: int, voice: Voice) -> str:
    """Return ``1 day late``."""
    return voice.many("{number} day late", "{number} days late", days)


def visit_kind(kind: str, voice: Voice) -> str:
    """Return what somebody comes for, such as ``look after the treatment``."""
    return {
        "treat": voice.text("treat"),
        "confirm": voice.text("look, because of a sign"),
        "after-treatment": voice.text("look after the treatment"),
        "next-visit": voice.text("visit again"),
        "watch": voice.text("look, to keep watch"),
    }[kind]


def state_name(state: str, voice: Voice) -> str:
    """Return what a state of a follow-up is called."""
    return {
        "looked-for": voice.text("looked-for"),
        "infested": voice.text("infested"),
        "under treatment": voice.text("under treatment"),
        "clearing": voice.text("clearing"),
        "not cleared": voice.text("not cleared"),
        "cleared": voice.text("cleared"),
        "watch over": voice.text("watch over"),
    }[state]


def states_counted(followups: Mapping[str, FollowUp], voice: Voice) -> str:
    """Return how many units are in each state of a follow-up, such as ``2 infested, ... 0 cleared``."""
    many, states = voice.many, [one.state for one in followups.values()]
    return ", ".join(
        (
            many("{number} infested", "{number} infested", states.count("infested")),
            many("{number} under treatment", "{number} under treatment", states.count("under treatment")),
            many("{number} clearing", "{number} clearing", states.count("clearing")),
            many("{number} cleared", "{number} cleared", states.count("cleared")),
        )
    )


def title(one: FollowUp, voice: Voice) -> str:
    """Return a state with its figures, such as ``clearing (2 of 3)``."""
    if one.state == "clearing":
        done = min(one.periods, one.needed)
        return voice.text("clearing ({done} of {needed})", done=done, needed=one.needed)
    if one.state == "not cleared":
        return voice.text("not cleared, a door to look at")
    if one.state == "cleared" and one.watch_until is not None:
        return voice.text("cleared, watch until {day}", day=voice.day(one.watch_until))
    return state_name(one.state, voice)


def sentences(one: FollowUp, voice: Voice) -> tuple[str, ...]:
    """Return where a unit stands, what it lacks and when to come; each sentence can be shown as it is."""
    if one.sign is None:
        told = [voice.text("No find and no treatment is on record, so there is nothing to follow up.")]
        told += [voice.text("That does not say that it is clear.")] if one.looked_at else []
        return (*told, *filter(None, [say(one.case, voice)]))
    told = [_first(one, one.sign, voice)]
    if one.why_more:
        reasons = {
            "heavy": voice.text("the infestation was heavy"),
            "displaced": voice.text("traps were displaced"),
        }
        told.append(
            voice.text(
                "It takes {needed} clean periods and not {usual}: {why}.",
                needed=voice.count(one.needed),
                usual=voice.count(one.usual_periods),
                why=voice.joined([reasons[why] for why in one.why_more]),
            )
        )
    if one.lacks and one.state != "looked-for":
        lacks = voice.joined([say(lack, voice) for lack in one.lacks])
        told.append(voice.text("To be cleared it still lacks {lacks}.", lacks=lacks))
    if one.vacant and one.state in IN_FOLLOWUP:
        told.append(voice.text("It stands empty, which clears nothing: bugs wait for months."))
    if one.case.failing is not None:
        told.append(say(one.case.failing, voice))
    told += filter(None, [say(one.case, voice)])
    if one.visit is not None:
        told.append(_visit(one.visit, voice))
    return tuple(told)


def _visit(visit: Visit, voice: Voice) -> str:
    given = {
        "first": voice.day(visit.earliest),
        "last": voice.day(visit.latest),
        "best": voice.day(visit.target),
        "why": say(visit, voice),
    }
    if visit.status == "overdue":
        return voice.text("Overdue: {first} to {last}, best {best}. {why}", **given)
    if visit.status == "due":
        return voice.text("Due now: {first} to {last}, best {best}. {why}", **given)
    return voice.text("Next visit: {first} to {last}, best {best}. {why}", **given)


def _first(one: FollowUp, sign: Sign, voice: Voice) -> str:  # noqa: PLR0911 - a sentence a state
    chance, since_sign = voice.percent(one.chance, 1), say(sign, voice)
    since = voice.text(
        "Since {sign}: {periods} of {needed} clean periods and {looks} of {looks_needed} clean looks by eye.",
        sign=since_sign,
        periods=one.periods,
        needed=one.needed,
        looks=one.looks,
        looks_needed=one.looks_needed,
    )
    if one.state in ("cleared", "watch over") and one.met_on and one.watch_until:
        told = voice.text(
            "Cleared by the rule of the house: {periods} and {looks} since {sign}, all on record by {day}, "
            "and a chance of {chance}.",
            periods=voice.many(
                "{count} clean period", "{count} clean periods", one.periods, count=voice.count(one.periods)
            ),
            looks=voice.many(
                "{count} clean look by eye",
                "{count} clean looks by eye",
                one.looks,
                count=voice.count(one.looks),
            ),
            sign=since_sign,
            day=voice.day(one.met_on),
            chance=chance,
        )
        until = voice.day(one.watch_until)
        if one.state == "watch over":
            return f"{told} {voice.text('The watch ended {day}.', day=until)}"
        return f"{told} {voice.text('The watch runs until {day}.', day=until)}"
    if one.state == "infested" and one.found_on:
        day = voice.day(one.found_on)
        return voice.text("Known infested: found {day} and not treated since.", day=day)
    if one.state == "looked-for" and one.met_on is not None:
        return voice.text(
            "The records closed its follow-up on {day}, and the watch is over. Its chance of {chance} is "
            "above {most}, so it is a door to look at like any other.",
            day=voice.day(one.met_on),
            chance=chance,
            most=voice.percent(one.threshold),
        )
    if one.state == "looked-for":
        again = voice.text(
            "It had all that the records need; {sign} opens it again, so look first.", sign=since_sign
        )
        return f"{again} {since}"
    if one.state == "not cleared":
        told = voice.text(
            "The log has {count} clear looks a fortnight apart, so it is a door to look at like any other. "
            "That is not the same as cleared.",
            count=voice.count(one.clear_looks),
        )
        return f"{told} {since}"
    return since


def notes(one: FollowUp, voice: Voice) -> list[str]:
    """Return what was not counted, and why."""
    return [say(note, voice) for note in one.notes]


def revisit_words(found: Mapping[str, FollowUp], voice: Voice) -> str:
    """Return how many units are to be revisited, such as ``revisits: 4 late, 2 due``."""
    late, due, coming = (len(group) for group in revisits(found.values()).values())
    parts = [voice.many("{number} late", "{number} late", late)] if late else []
    parts += [voice.many("{number} due", "{number} due", due)] if due else []
    parts += [voice.many("{number} coming", "{number} coming", coming)] if coming else []
    return voice.text("revisits: {parts}", parts=", ".join(parts)) if parts else voice.text("no revisits")


def rule_words(rule: ClearanceRule, voice: Voice) -> str:
    """Return the clearance rule in a few sentences."""
    traps = voice.either([several(monitor, voice) for monitor in rule.monitors])
    heavy = (
        voice.text(" ({number} where it was heavy or traps were displaced)", number=rule.heavy_periods)
        if rule.heavy_periods > rule.periods
        else ""
    )
    covers = voice.text(", encasements of beds recorded as intact,") if rule.encasements else ""
    return voice.text(
        "Cleared takes {periods} clean {days}-day periods{heavy} with {traps}, {looks} clean looks by eye "
        "at every sleeping place (early and at the end){covers} all since the last find, treatment, report "
        "or alert, and a chance of {chance} or less by the model. Then a watch of {months} months. Visit "
        "windows are for rooms at {celsius} C. Change it under [clearance] in building.toml.",
        periods=rule.periods,
        days=rule.period_days,
        heavy=heavy,
        traps=traps,
        looks=rule.looks,
        covers=covers,
        chance=voice.percent(rule.chance, 1),
        months=rule.watch_months,
        celsius=f"{rule.room_celsius:g}",
    )


def followup_data(one: FollowUp, voice: Voice = ENGLISH) -> dict[str, Any]:
    """Return a follow-up ready for JSON: the facts, and the words that pages and lists show."""
    data: dict[str, Any] = dict(as_json(one))  # type: ignore[call-overload]
    data |= {
        "title": title(one, voice),
        "words": list(sentences(one, voice)),
        "since": None if one.sign is None else one.sign.day.isoformat(),
        "since_words": "" if one.sign is None else say(one.sign, voice),
        "lacks": [
            {**told, "words": say(lack, voice)} for told, lack in zip(data["lacks"], one.lacks, strict=True)
        ],
        "notes": notes(one, voice),
        "notes_facts": data["notes"],
    }
    if one.visit is not None:
        data["visit"] = {**data["visit"], "words": say(one.visit, voice)}
    return data


def opening(one: FollowUp, voice: Voice) -> str:
    """Return the title with a capital at its beginning."""
    return upper(title(one, voice))

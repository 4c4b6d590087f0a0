"""What programmes plan and what their runs say, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from spread.programmes import told
from spread.programmes.by_pace import ByPace
from spread.records.words import METHOD_WORDS
from spread.trade.methods import looks, monitors
from spread.trade.registry import LOOKING, MONITORS, TREATMENTS
from spread.words import figures as f
from spread.words.saying import say
from spread.words.terms import method_name, within
from spread.words.voice import Voice, upper

if TYPE_CHECKING:
    from spread.programmes.figures import Share
    from spread.programmes.pairs import BreakEven, Pair
    from spread.programmes.price_list import Price
    from spread.programmes.programme import Programme
    from spread.programmes.results import Comparison, Outcome

PROTOCOL_PARTS = (looks.INTERVIEW, looks.BRIEF, monitors.INTERCEPTORS)


def part_of(method: str, voice: Voice) -> str:
    """Return what a method, or the survey protocol, is called within a sentence."""
    if method in LOOKING:
        return within(method, voice)
    if method in METHOD_WORDS:
        return method_name(method, voice).lower()
    return voice.joined([method_name(row.key, voice).lower() for row in PROTOCOL_PARTS])


def figure_names(voice: Voice) -> dict[str, str]:
    """Return what each figure of a programme is called, in the order of a table."""
    return {
        "infested-at-end": voice.text("Units infested at the end"),
        "infested unit-weeks": voice.text("Infested unit-weeks"),
        "new-units": voice.text("Units newly infested"),
        "units found": voice.text("Units found infested"),
        "relapses": voice.text("Found again within 26 weeks of closing"),
        "closed-infested": voice.text("Closed though bugs were left"),
        "false finds": voice.text("Treated by mistake"),
        "false alerts": voice.text("False alerts of dogs"),
        "visits": voice.text("Visits"),
        "hours": voice.text("Technician hours"),
        "cost": voice.text("Cost"),
        "cost-with-rest": voice.text("Cost, and treating what is left"),
    }


def driver_names(voice: Voice) -> dict[str, str]:
    """Return what each thing is called that drives the figures (:mod:`spread.programmes.drivers`)."""
    return {
        "spread": voice.text("rates of spread"),
        "brought-in": voice.text("brought in from outside"),
        "growth": voice.text("growth"),
        "sensitivity": voice.text("sensitivity of looks"),
        "false-finds": voice.text("false finds and alerts"),
        "treatment": voice.text("effect of treatment"),
        "shut-doors": voice.text("shut doors"),
        "refusals": voice.text("households that refuse"),
        "reports": voice.text("residents' reports"),
        "hour": voice.text("price of an hour"),
        "treatment-minutes": voice.text("time of a treatment"),
    }


def cost_names(voice: Voice) -> dict[str, str]:
    """Return what each kind of cost is called (:data:`spread.programmes.money.KINDS`)."""
    return {
        "doors": voice.text("Knocking at doors"),
        "looks": voice.text("Looks and monitors"),
        "surveys": voice.text("Surveys of all units"),
        "treatment": voice.text("Treatment"),
        "office": voice.text("Reports and notices"),
        "travel": voice.text("Travel"),
        "loss": voice.text("Owner's loss"),
    }


def survey_note(comparison: Comparison, voice: Voice) -> str:
    """Return what decides between surveys and ranked doors; empty where no survey is compared."""
    if not any(outcome.hours_by_kind["surveys"].mean > 0.0 for outcome in comparison.outcomes):
        return ""
    return voice.text(
        "A survey by interview, brief look and interceptors is taken to last the published 14.4 minutes a "
        "unit (Wang et al. 2016) unless you give your own; by the minutes this package takes for its parts "
        "it would last 35, and surveys would lose by that."
    )


def nil_by(comparison: Comparison, voice: Voice) -> str:
    """Return the name of the chance that no unit is infested by the week asked for."""
    return voice.text("No unit infested at some time by week {week}", week=comparison.by_week)


def programme_name(programme: Programme, voice: Voice) -> str:
    """Return a programme's own name, or what a search put together."""
    return programme.name or (say(programme.made, voice) if programme.made else programme.key)


def _weeks(count: int, voice: Voice) -> str:
    return voice.text("one week") if count == 1 else voice.many("{number} week", "{number} weeks", count)


def _soon(weeks: int, voice: Voice) -> str:
    return _weeks(weeks, voice) if weeks else voice.text("the same week")


@say.register
def _(fact: told.SurveyOfAll, voice: Voice) -> str:
    return voice.text("survey of every unit by {method}", method=part_of(fact.method, voice))


@say.register
def _(fact: told.MonitorsRead, voice: Voice) -> str:
    return voice.text("fetch and read the monitors")


@say.register
def _(fact: told.RankedBegins, voice: Voice) -> str:
    size = (
        voice.many("{number} ranked door", "{number} ranked doors", fact.doors)
        if fact.doors
        else voice.text("ranked doors for {minutes} minutes", minutes=voice.number(fact.minutes))
    )
    if fact.every_weeks == 1:
        return voice.text("from here on {size} every week", size=size)
    return voice.text("from here on {size} every {weeks} weeks", size=size, weeks=fact.every_weeks)


@say.register
def _(fact: told.AfterReport, voice: Voice) -> str:
    method, soon = part_of(fact.method, voice), _soon(fact.within_weeks, voice)
    return voice.text("After a report: {method} within {weeks}.", method=method, weeks=soon)


@say.register
def _(fact: told.AroundFind, voice: Voice) -> str:
    weeks = _weeks(fact.within_weeks, voice)
    return voice.text("After a find: the units around it within {weeks}.", weeks=weeks)


@say.register
def _(fact: told.CourseAfterFind, voice: Voice) -> str:
    between = heavy = ""
    if fact.monitor:
        those = voice.term("those", MONITORS[fact.monitor].those)
        between = voice.text(", the {monitors} between them included", monitors=those)
    if fact.heavy_visits > fact.clean_visits:
        heavy = voice.text(" ({visits} where it was heavy)", visits=fact.heavy_visits)
    return voice.text(
        "After a find: {method} within {weeks}, then a visit every {every} until {visits} visits in a row "
        "find nothing{between}{heavy}.",
        method=part_of(fact.method, voice),
        weeks=_soon(fact.within_weeks, voice),
        every=_weeks(fact.every_weeks, voice),
        visits=fact.clean_visits,
        between=between,
        heavy=heavy,
    )


@say.register
def _(fact: told.WhenEmpty, voice: Voice) -> str:
    return voice.text("When people leave: {method} in the empty unit.", method=part_of(fact.method, voice))


@say.register
def _(fact: told.Candidate, voice: Voice) -> str:
    parts = [voice.text("complaints") if fact.complaints else voice.text("no complaints")]
    parts += [voice.text("ring")] if fact.ring else []
    parts += [voice.text("{doors} ranked doors a week", doors=fact.doors)] if fact.doors else []
    if fact.survey_weeks:
        how = {"method": fact.survey_method, "weeks": fact.survey_weeks}
        parts.append(voice.text("survey by {method} every {weeks} weeks", **how))
    return upper(", ".join(parts))


@say.register
def _(fact: told.SurveyEvery, voice: Voice) -> str:
    return voice.text("Survey every {weeks} weeks", weeks=fact.weeks)


@say.register
def _(fact: told.DoorsAWeek, voice: Voice) -> str:
    if not fact.doors:
        return voice.text("No ranked doors")
    return voice.text("{doors} ranked doors a week", doors=fact.doors)


@say.register
def _(fact: ByPace, voice: Voice) -> str:
    parts = dict(
        zip(("slow", "middle", "fast"), (f.share(part, voice) for part in fact.less), strict=True),
        first=fact.a,
        second=fact.b,
    )
    often = (
        voice.text(
            "{first} costs less than {second} in {slow} of the futures of the slowest third of plausible "
            "paces, {middle} of the middle third, {fast} of the fastest.",
            **parts,
        )
        if fact.of == "cost"
        else voice.text(
            "{first} has fewer infested unit-weeks than {second} in {slow} of the futures of the slowest "
            "third of plausible paces, {middle} of the middle third, {fast} of the fastest.",
            **parts,
        )
    )
    turns = {
        "flips": voice.text("The answer flips with the building's pace, which one log tells little of."),
        "holds": voice.text("The answer does not flip with the building's pace."),
        "even": voice.text("Whether it flips with the building's pace cannot be told."),
    }
    return f"{often} {turns[fact.turn]}"


@say.register
def _(fact: told.PaceKnown, voice: Voice) -> str:
    begin, end = fact.published
    return voice.text(
        "How fast bugs spread differs between buildings: in a published one under usual service {begin} % "
        "of units became {end} % in a year (Wang et al. 2019), in another they fell; simulated from there "
        "they become {simulated} %. This building starts from that pace, moved by its own log. Where spread "
        "is slower, waiting costs less than is shown; where it is faster, more.",
        begin=begin,
        end=end,
        simulated=fact.simulated,
    )


@say.register
def _(fact: told.DriverEnd, voice: Voice) -> str:
    value = fact.values[0] if fact.values else 0.0
    which = voice.term("end", fact.end)
    return {
        "times-the-mean": lambda: voice.text(
            "{times} times the mean, the building's own range", times=f"{value:.2g}"
        ),
        "a-unit-week": lambda: voice.text("{rate} a unit-week", rate=f"{value:.2g}"),
        "a-day": lambda: voice.text("{rate} a day", rate=f"{value:.3g}"),
        "of-every-method": lambda: voice.text("{end} of every method", end=which),
        "at-every-level": lambda: voice.text("{end} at every level", end=which),
        "of-knocks": lambda: voice.text("{share} of knocks", share=f"{value:.0%}"),
        "share": lambda: f"{value:.0%}",
        "an-hour": lambda: f"{fact.currency} {voice.number(value)}",
        "minutes": lambda: voice.text(
            "{minutes} minutes", minutes=" / ".join(map(voice.number, fact.values))
        ),
    }[fact.unit]()


# How two programmes compare.


def cost_verdict(pair: Pair, voice: Voice) -> str:
    """Return in a word or two whether the first of a pair is the cheaper one."""
    words = {"fewer": voice.text("cheaper"), "more": voice.text("dearer")}
    return words.get(pair.cost_verdict) or voice.text("cannot be told apart")


def bug_verdict(pair: Pair, voice: Voice) -> str:
    """Return in a word or two whether the first of a pair has fewer infested unit-weeks."""
    words = {"fewer": voice.text("fewer"), "more": voice.text("more")}
    return words.get(pair.bug_verdict) or voice.text("cannot be told apart")


def pair_line(pair: Pair, currency: str, voice: Voice) -> str:
    """Return in a clause how one programme does against another, for a list of plain text."""
    told_cost = {
        "cheaper": f.share_with_error(pair.cheaper, voice, "+-"),
        "verdict": cost_verdict(pair, voice),
        "amount": f"{currency} {voice.number(abs(pair.cost.median))}",
    }
    told_bugs = {
        "fewer": f.share_with_error(pair.fewer_bugs, voice, "+-"),
        "verdict": bug_verdict(pair, voice),
        "amount": voice.number(abs(pair.bug_weeks.median)),
    }
    money = (
        voice.text("cost cannot be told apart (cheaper in {cheaper})", **told_cost)
        if pair.cost_verdict == "cannot-tell"
        else voice.text("{verdict} by {amount} (cheaper in {cheaper})", **told_cost)
    )
    bugs = (
        voice.text("infested unit-weeks cannot be told apart (fewer in {fewer})", **told_bugs)
        if pair.bug_verdict == "cannot-tell"
        else voice.text("{verdict} infested unit-weeks by {amount} (fewer in {fewer})", **told_bugs)
    )
    return f"{money}; {bugs}"


def duel(comparison: Comparison, pair: Pair, voice: Voice) -> tuple[str, str, str]:
    """Return how the second of a pair does against the first: names, then bugs and cost in words.

    A winner is named where nine futures of ten say so; otherwise, and where the bands of the two overlap,
    it is said in words.
    """
    turned = comparison.pair(pair.b, pair.a)
    first, second = comparison.of(pair.a), comparison.of(pair.b)
    bugs = _duel_line(
        turned.bug_verdict == "cannot-tell",
        turned.fewer_bugs,
        (
            voice.text("Fewer infested unit-weeks in {share} of the futures"),
            voice.text("More infested unit-weeks in {share} of the futures"),
            voice.text("Cannot be told apart, fewer infested unit-weeks in {share} of the futures"),
        ),
        f.difference(turned.bug_weeks, voice),
        voice,
    )
    cost = _duel_line(
        turned.cost_verdict == "cannot-tell",
        turned.cheaper,
        (
            voice.text("Cheaper in {share} of the futures"),
            voice.text("Dearer in {share} of the futures"),
            voice.text("Cannot be told apart, cheaper in {share} of the futures"),
        ),
        f"{comparison.currency} {f.difference(turned.cost, voice)}",
        voice,
    )
    title = voice.text("{second} against {first}", second=second.name, first=first.name)
    return (
        title,
        bugs + _overlap(first, second, "infested unit-weeks", voice),
        cost + _overlap(first, second, "cost", voice),
    )


def _duel_line(open_: bool, less: Share, words: tuple[str, str, str], difference: str, voice: Voice) -> str:
    """Return a verdict with its chance and difference; ``words`` are for less, for more, and for neither."""
    from spread.programmes.figures import Share  # noqa: PLC0415 - words start without numpy's figures
    from spread.programmes.pairs import SURE  # noqa: PLC0415

    more = Share(1.0 - less.chance, less.error)
    told_of, template = less, words[0]
    if open_:
        template = words[2]
    elif less.chance <= 0.5:
        told_of, template = more, words[1]
    lead = template.format(share=f.share_with_error(told_of, voice))
    if abs(max(less.chance, more.chance) - SURE) < 2.0 * less.error:
        lead += voice.text(" (close to the line; more runs would tell)")
    return voice.text("{verdict}; difference {difference}.", verdict=lead, difference=difference)


def _overlap(first: Outcome, second: Outcome, name: str, voice: Voice) -> str:
    a, b = first.figures[name], second.figures[name]
    return "" if a.high90 < b.low90 or b.high90 < a.low90 else voice.text(" Their bands overlap.")


def even_lines(even: BreakEven, comparison: Comparison, voice: Voice) -> list[str]:
    """Return in sentences where a programme becomes the cheaper one."""
    name, money = comparison.of(even.key).name, comparison.currency
    lines = []
    price, loss = even.survey_price, even.loss
    if price is not None and price.value is not None:
        at = "" if even.survey_price_now is None else voice.number(even.survey_price_now, 2)
        now = at and voice.text(", at {currency} {price} now", currency=money, price=at)
        if price.value >= 0.01:
            below = f"{money} {f.solved(price, voice)}"
            lines.append(
                voice.text(
                    "{name} is the cheaper one below {price} a planned look{now}.",
                    name=name,
                    price=below,
                    now=now,
                )
            )
        else:
            lines.append(
                voice.text(
                    "{name} is the dearer one at any price of a planned look{now}.", name=name, now=now
                )
            )
    if loss is None or loss.value is None:
        lines.append(
            voice.text("{name} averts no infested unit-weeks on average, so no loss makes it pay.", name=name)
        )
    elif loss.value <= 0.0:
        lines.append(
            voice.text(
                "{name} costs less on average, whatever an infested unit-week costs the owner.", name=name
            )
        )
    else:
        lines.append(
            voice.text(
                "{name} pays once an infested unit-week costs the owner {loss} or more.",
                name=name,
                loss=f"{money} {f.solved(loss, voice)}",
            )
        )
    return lines


# What prices are called.


def price_group(group: str, voice: Voice) -> str:
    """Return what a group of prices is called."""
    return {
        "hour": voice.text("Hour and loss"),
        "survey": voice.text("Survey by interview, look and interceptors"),
        "door": voice.text("At the door and around it"),
        "look": voice.text("Looks and monitors"),
        "treatment": voice.text("Treatment visits"),
    }[group]


def price_name(key: str, voice: Voice) -> str:
    """Return what a price is called, by its key (:class:`spread.programmes.price_list.Price`)."""
    kind, _, part = key.partition(".")
    if kind == "treat":
        return {
            "light": voice.text("A visit, up to 12 bugs"),
            "moderate": voice.text("A visit, 13 to 50 bugs"),
            "heavy": voice.text("A visit, more than 50 bugs"),
        }[part]
    if kind == "material":
        return voice.text("{name}: material", name=voice.term("treatment", TREATMENTS[part].short))
    if part:
        name = method_name(part, voice)
        if kind == "check":
            return voice.text("{name}: check", name=name)
        if kind == "fee":
            return voice.text("{name}: fee or material", name=name)
        return voice.text("{name}: set", name=name) if part in MONITORS else name
    return {
        "hour": voice.text("A technician's hour"),
        "loss": voice.text("Owner's loss (rent, claims, turnover), an infested unit-week"),
        "survey": voice.text("A unit, everything in it"),
        "survey_minutes": voice.text("Time of a unit"),
        "knock": voice.text("A knock"),
        "report": voice.text("A report taken in"),
        "notice": voice.text("An entry notice"),
        "trip": voice.text("The way there, a week with visits"),
    }[kind]


def price_mark(mark: str, voice: Voice) -> str:
    """Return in a word or two what kind of source a price has."""
    return voice.term("source", {"none": "no source"}.get(mark, mark))


def price_source(price: Price, voice: Voice) -> str:
    """Return where a price is from: its citation, or who sets it."""
    if price.mark == "own":
        return voice.text("your building's or firm's own file")
    if price.mark == "yours":
        return voice.text(
            "no default: what a week of an infested unit costs the owner is for the owner to say"
        )
    return price.source

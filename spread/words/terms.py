"""The words of the registries in a person's language: one vocabulary for every page, sheet and command."""

from __future__ import annotations

from collections.abc import Iterator

from spread.plan.access import DAYS
from spread.records.kinds import STAGES, STATES
from spread.records.words import EVIDENCE_WORDS, METHOD_WORDS
from spread.trade.biology import COUNT_CLASSES, LEVEL_NAMES
from spread.trade.clearance import NEVER
from spread.trade.registry import LOOKING, MONITORS, TREATMENTS
from spread.trade.room import NEAR_BED_SHARE, SLEEPING, TEXTS, load_room
from spread.trade.route_rows import ROWS
from spread.trade.routes import BY_KEY
from spread.trade.rule_set import ALWAYS_SAY, NOT_ADVICE
from spread.trade.rules import load_rules, rule_ids
from spread.words.voice import Voice, upper


def method_name(method: str, voice: Voice) -> str:
    """Return what a method of looking or treating is called, such as ``Brief look``."""
    return voice.term("method", METHOD_WORDS.get(method, method))


def found_by(method: str, voice: Voice) -> str:
    """Return how something was found by a method, such as ``in a brief look``."""
    return voice.term("how", LOOKING[method].how)


def within(method: str, voice: Voice) -> str:
    """Return what a method of looking is called within a sentence, such as ``a dog``."""
    return voice.term("within", LOOKING[method].within)


def carried_through(method: str, voice: Voice) -> str:
    """Return what a visit by a method is until there is an answer, such as ``Interceptors for 14 days``."""
    return voice.term("whole", LOOKING[method].carried_through)


def alert_of(method: str, voice: Voice) -> str:
    """Return what a method's unconfirmed yes is called, such as ``a dog alerted``; empty for a find."""
    alert = LOOKING[method].alert
    return voice.term("alert", alert) if alert else ""


def if_nothing(method: str, voice: Voice) -> str:
    """Return what it is called where a method comes upon nothing, such as ``nothing is found``."""
    return voice.term("nothing", LOOKING[method].if_nothing)


def caution_of(method: str, voice: Voice) -> str:
    """Return what has to be said where a method is offered; empty for none."""
    caution = LOOKING[method].caution
    return voice.term("caution", caution) if caution else ""


def outcome_name(method: str, found: bool, voice: Voice) -> str:
    """Return what a yes or a no of a method is called in the log, such as ``nothing caught``."""
    way = LOOKING[method]
    return voice.term("outcome", way.found if found else way.not_found)


def several(method: str, voice: Voice) -> str:
    """Return several monitors of a method within a sentence, such as ``interceptors``."""
    return voice.term("several", MONITORS[method].several)


def route_name(route: str, voice: Voice) -> str:
    """Return what a route is called as a source of new infestations, such as ``Walls``."""
    return voice.term("route", BY_KEY[route].name)


def sign_name(sign: str, voice: Voice) -> str:
    """Return what a sign is called, such as ``cast skins``."""
    return voice.term("sign", EVIDENCE_WORDS.get(sign, sign))


def level_name(level: str, voice: Voice) -> str:
    """Return what a level of infestation is called, such as ``moderate``."""
    return voice.term("level", level)


def level_choice(level: str, voice: Voice) -> list[str]:
    """Return a level as a form offers it: its key, its name, and how many live bugs make it."""
    low, high = COUNT_CLASSES[LEVEL_NAMES.index(level) - 1]
    if high is None:
        bugs = voice.text("over {number}", number=low - 1)
    elif low == 1:
        bugs = voice.text("{low} to {high} bugs", low=low, high=high)
    else:
        bugs = voice.text("{low} to {high}", low=low, high=high)
    return [level, upper(level_name(level, voice)), bugs]


def sign_choice(sign: str, voice: Voice) -> list[str]:
    """Return a sign as a form offers it: its key and its name."""
    alone = {"live": voice.text("Live bugs"), "alert": voice.text("Dog alert")}
    return [sign, alone.get(sign) or upper(sign_name(sign, voice))]


def place_name(place: str, voice: Voice) -> str:
    """Return a sleeping place as it was written down, such as ``bed 1``: its kind in the language."""
    kind, space, more = place.partition(" ")
    return f"{voice.term('place', kind.replace('-', ' '))}{space}{more}" if kind in SLEEPING else place


def registry_terms() -> Iterator[tuple[str, str]]:
    """Yield context and word of all that the registries say, for whoever gathers texts to translate.

    These words stand in rows, not in calls of ``voice.term``, so that no search through the code finds them.
    """
    for name in METHOD_WORDS.values():
        yield "method", name
    for way in LOOKING.values():
        yield "how", way.how
        yield "within", way.within
        yield "whole", way.carried_through
        yield "plain", way.plain
        yield "alert", way.alert
        yield "nothing", way.if_nothing
        yield "caution", way.caution
        yield "outcome", way.found
        yield "outcome", way.not_found
        for thing in way.bring:
            yield "bring", thing
    for monitor in MONITORS.values():
        yield "several", monitor.several
        yield "those", monitor.those
    for treatment in TREATMENTS.values():
        yield "treatment", treatment.short
        for line in (*treatment.prepare, *treatment.cautions):
            yield "line", line.text
    for route in ROWS:
        yield "route", route.name
        yield "contacts", route.contacts
        yield "tie", route.words
    from spread.programmes.reading import presets  # noqa: PLC0415 - most who say a term run no programmes

    for programme in presets():
        yield "programme", programme.name
        yield "programme", programme.words
    yield from _law_terms()
    for sign in EVIDENCE_WORDS.values():
        yield "sign", sign
    for level in LEVEL_NAMES:
        yield "level", level
    yield from _sheet_terms()


def _law_terms() -> Iterator[tuple[str, str]]:
    """Yield what is said of the law and of every rule set of ours; a statute keeps its own name."""
    for words in (ALWAYS_SAY, NOT_ADVICE):
        yield "law", words
    for key in rule_ids():
        rules = load_rules(key)
        for words in (rules.title, rules.authority, rules.text_date):
            yield "law", words


def _sheet_terms() -> Iterator[tuple[str, str]]:
    """Yield what our own room sheet says, and what door sheets do.

    A firm's own sheet is said as the firm wrote it.
    """
    sheet = load_room(None)
    yield "room", sheet.name
    yield "source", sheet.weights_source
    for note in sheet.notes:
        yield "room", note.text
        yield "source", note.source
    for item in sheet.items:
        for name in TEXTS:
            yield "room", getattr(item, name)
        yield "item", item.code.replace("-", " ")
        yield "source", item.source
        for tool in item.tools:
            yield "tool", tool
    yield "line", NEVER
    for day in DAYS:
        yield "weekday", day
    yield "source", NEAR_BED_SHARE.source
    for kind in SLEEPING:
        yield "place", kind.replace("-", " ")
    for stage in STAGES:
        yield "stage", stage
    for state in STATES:
        yield "state", state

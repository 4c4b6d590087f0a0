"""Every fact has words, every message fills, and no sentence of the doors clears anybody in any language."""

import ast
import dataclasses
import importlib
import re
import string
from pathlib import Path
from pkgutil import walk_packages

import pytest

import spread.contacts
import spread.decisions
import spread.programmes
from spread.contacts.relations import AlongHallway, ByStairs, RingPlace, SameRiser, SharedFloor, SharedWall
from spread.decisions.doors.told import FromContact, SuspectedThere
from spread.facts import Fact, as_json
from spread.programmes.figures import Share
from spread.words import ENGLISH, Voice, say
from spread.words.figures import share, spanned
from spread.words.saying import load_words
from spread.words.voice import METRES_A_FOOT

ROOT = Path(__file__).parent.parent
FEET = Voice("en", "feet")
PART_OF_ANOTHER = {
    "Attempt", "Band", "Bearing", "ClearAndFind", "DoorRow", "Duty", "Owed", "FindThenClear", "FollowUp",
    "Ahead", "Done", "Grades", "JobRecord", "Month", "Learned", "Counted", "ListDay", "Proof",
    "MonitorOverTreatment", "Origin", "Past", "PastWeek", "Range", "ReportWhileEmpty", "Repeated", "Step",
    "Place", "Sum", "Trait", "TreatedUnfound", "Tries", "TreatmentPlan", "Door",
}  # fmt: skip
"""Facts that are no sentence: tables and wholes, whose parts are said, and parts said by their whole."""


def facts() -> list[type[Fact]]:
    """Return every fact of contacts, decisions and programmes."""
    for package in (spread.contacts, spread.decisions, spread.programmes):
        for module in walk_packages(package.__path__, f"{package.__name__}."):
            importlib.import_module(module.name)
    found, front = [], [Fact]
    while front:
        front = [kind for one in front for kind in one.__subclasses__()]
        found += front
    # A class with slots is made twice; the one that its module has is the one in use.
    used = {getattr(importlib.import_module(kind.__module__), kind.__name__) for kind in found}
    return sorted((kind for kind in used if kind.__module__.startswith("spread.")), key=lambda k: k.__name__)


@pytest.mark.parametrize("kind", facts(), ids=lambda kind: kind.__name__)
def test_a_fact_is_frozen_and_somebody_says_it(kind):
    assert dataclasses.is_dataclass(kind)
    assert kind.__dataclass_params__.frozen
    load_words()
    said = say.dispatch(kind) is not say.dispatch(object)
    assert said != (kind.__name__ in PART_OF_ANOTHER), "say it, or name it a part of another"


def test_an_unknown_fact_is_a_mistake_and_no_silence():
    with pytest.raises(TypeError, match="no words for"):
        say(object(), ENGLISH)


def messages() -> list[tuple[str, int, ast.Call]]:
    """Return every call of ``voice.text``, ``voice.many`` and ``told``."""
    found = []
    for folder in ("spread", "dashboard"):
        for path in sorted((ROOT / folder).rglob("*.py")):
            source = path.read_text(encoding="utf-8")
            tells = re.search(r"from spread.errors import .*\btold\b", source)
            for node in ast.walk(ast.parse(source)):
                if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute):
                    on = node.func.value
                    voice = getattr(on, "id", "") in ("voice", "ENGLISH")
                    if voice and node.func.attr in ("text", "many"):
                        found.append((str(path.relative_to(ROOT)), node.lineno, node))
                elif tells and isinstance(node, ast.Call) and getattr(node.func, "id", "") == "told":
                    found.append((str(path.relative_to(ROOT)), node.lineno, node))
    return found


def test_every_message_is_a_literal_and_gets_the_values_that_it_names():
    calls = messages()
    assert len(calls) > 100
    for file, line, call in calls:
        count = 2 if getattr(call.func, "attr", "") == "many" else 1
        texts = [arg.value for arg in call.args[:count] if isinstance(arg, ast.Constant)]
        assert len(texts) == count, f"{file}:{line}: a message that is no literal cannot be gathered"
        given = {keyword.arg for keyword in call.keywords} | ({"number"} if count == 2 else set())
        if None in given or (count == 1 and not call.keywords):
            continue  # filled from a table of values, or by whoever asked for the message
        for text in texts:
            named = {name for _, name, _, _ in string.Formatter().parse(text) if name}
            assert named <= given, f"{file}:{line}: nothing fills {named - given}"
            assert given - {"number"} <= named, f"{file}:{line}: {given - named} is not said"


@pytest.mark.parametrize(
    ("fact", "words"),
    [
        (SharedWall("103", 7.5), "shares 7.5 m of wall with 103"),
        (SharedFloor("103", above=True, partly=False), "directly above 103"),
        (SharedFloor("103", above=False, partly=True), "partly below 103"),
        (SameRiser("103", 2), "on the same riser, 2 floors up from 103"),
        (SameRiser("103", -1), "on the same riser, 1 floor down from 103"),
        (SameRiser("103", 0), "on the same riser as 103"),
        (AlongHallway("103", 1, opposite=False), "next door along the hallway from 103"),
        (AlongHallway("103", 3, opposite=False), "3 doors along the hallway from 103"),
        (AlongHallway("103", 1, opposite=True), "across and 1 door along the hallway from 103"),
        (ByStairs("103", -1, 29.4), "1 floor down and 29 m by the stairs from 103"),
        (RingPlace("304", ("beside", "above")), "beside and above 304"),
    ],
    ids=lambda value: value.fact if isinstance(value, Fact) else "",
)
def test_how_units_lie_to_each_other_reads_on(fact, words):
    assert say(fact, ENGLISH) == words


def test_a_figure_whose_ends_read_like_its_middle_is_said_once():
    assert spanned(ENGLISH, "US$ 0", "US$ 0", "US$ 0") == "US$ 0"
    assert spanned(ENGLISH, "2", "1", "2") == "2 (1 to 2)"
    assert spanned(Voice("es"), "2", "1", "2") == "2 (de 1 a 2)"


def test_lengths_are_said_in_the_persons_measure_and_nowhere_else():
    wall = FromContact("103", SharedWall("103", 7.5), 0.4, "came-from", SuspectedThere(0.3, None, ""))
    metres, feet = say(wall, ENGLISH), say(wall, FEET)
    assert "7.5 m of wall" in metres
    assert f"{round(7.5 / METRES_A_FOOT)} ft of wall" in feet
    assert re.sub(r"[\d.]+ (m|ft) of", "of", metres) == re.sub(r"[\d.]+ (m|ft) of", "of", feet)


def test_facts_keep_their_kind_and_figures_as_json():
    wall = FromContact("103", SharedWall("103", 7.5), 0.4, "came-from", SuspectedThere(0.3, None, ""))
    assert as_json(wall) == {
        "fact": "from-contact",
        "unit": "103",
        "way": {"fact": "shared-wall", "unit": "103", "metres": 7.5},
        "share": 0.4,
        "of": "came-from",
        "story": {"fact": "suspected-there", "chance": 0.3, "looked_days": None, "found": ""},
    }


def test_a_percentage_is_written_in_one_form_by_language():
    """By the CLDR: English without a space, Spanish with one that does not break."""
    spanish, space = Voice("es"), "\N{NO-BREAK SPACE}"
    assert (ENGLISH.percent(0.337), spanish.percent(0.337)) == ("34%", f"34{space}%")
    assert (ENGLISH.percent(0.0), spanish.percent(1.0)) == ("<1%", f">99{space}%")
    sure = "about {median} (90 % sure: {low} to {high})"
    filled = {"median": 3, "low": 1, "high": 4}
    assert ENGLISH.text(sure, **filled) == "about 3 (90% sure: 1 to 4)"
    assert f"90{space}%" in spanish.text(sure, **filled)
    assert share(Share(1.0, 0.01), ENGLISH) == "100%"

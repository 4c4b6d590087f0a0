"""What a technician or a resident reads is there in Spanish, whole; no native speaker has read it yet."""

import datetime as dt
import re
import string
from types import SimpleNamespace

import pytest
from catalogues import LOCALE, catalogue_of, parts, placeholders, translated
from small import made_plan

from dashboard.round.answers import phone_fields
from dashboard.words import CLASS_WORDS
from spread.decisions.room.sheet import read_places
from spread.errors import SpreadError, told
from spread.plan.access import AccessRule, access_on
from spread.records import record_from_fields
from spread.records.log import Log
from spread.words import ENGLISH, Voice, say
from spread.words.followup import states_counted
from spread.words.phone import phone_words
from spread.words.refusals import refusal

SPANISH = Voice("es")
TECHNICIAN = (
    "registry", "access", "choice", "contradictions", "credit", "doors", "duties", "flips", "followup",
    "kept", "methods",
    "musts", "offer", "outside", "paper", "phone", "reasons",
    "records", "relations", "room", "round", "terms", "treatment",
    "voice", "week", "why",
)  # fmt: skip
"""Parts that a technician reads on the phone, on sheets and in the list; all others are the office's."""
BY_PART = dict(parts())
KNOWN = translated("es")


@pytest.mark.parametrize("part", TECHNICIAN)
def test_everything_that_a_technician_reads_has_its_spanish(part):
    # A source is a citation and stays as it is printed.
    asked = [one for one in BY_PART[part] if one.context != "source"]
    assert asked
    assert [one.text for one in asked if (one.context, one.text) not in KNOWN] == []


def test_words_of_rows_are_gathered_in_every_context_in_which_they_are_said():
    """What stands in a row is found by no search through the code: one left out stays English."""
    code = [path.read_text("utf-8") for path in (LOCALE.parents[1]).rglob("*.py")]
    said = {context for text in code for context in re.findall(r'voice\.term\(\s*"([a-z]+)"', text)}
    assert len(said) > 30
    assert said - {one.context for messages in BY_PART.values() for one in messages} == set()


def test_a_translation_fills_the_same_places_and_has_as_many_forms():
    wrong = []
    for part, messages in BY_PART.items():
        for one in messages:
            for words in KNOWN.get((one.context, one.text), ()):
                if placeholders(words) | {"number"} != placeholders(one.text) | {"number"}:
                    wrong.append((part, one.text, words))
            if (one.context, one.text) in KNOWN:
                assert len(KNOWN[one.context, one.text]) == (2 if one.many else 1), one.text
    assert wrong == []
    assert len(KNOWN) > 600


def test_the_catalogues_hold_what_is_said_and_nothing_else():
    """``python -m tests.catalogues`` brings them in line."""
    said = {(one.context, one.text) for messages in BY_PART.values() for one in messages}
    held = set()
    for path in (LOCALE / "es").glob("*.po"):
        for message in catalogue_of(path, "es"):
            english = message.id[0] if isinstance(message.id, list | tuple) else message.id
            held |= {(message.context or "", english)} if english else set()
    assert held - said == set()
    assert said - held == set()


def test_no_text_of_the_phone_is_english():
    english, spanish = phone_words(ENGLISH), phone_words(SPANISH)
    assert english.keys() == spanish.keys()
    same = {key for key in english if english[key] == spanish[key]}
    assert same <= {"hours", "from_unit"}, {key: english[key] for key in same}


@pytest.mark.parametrize("text", [text for (_, text), words in KNOWN.items() if "clear" in text.lower()][:60])
def test_a_sentence_that_clears_nothing_says_so_in_spanish_too(text):
    """Where the English denies, the Spanish denies: a lost *no* would clear a unit."""
    words = next(" ".join(told) for (_, english), told in KNOWN.items() if english == text).lower()
    denies = any(
        mark in f" {text.lower()} " for mark in (" no ", " not ", "n't", " nothing", "never", " none")
    )
    if denies:
        assert any(
            mark in f" {words} " for mark in (" no ", " nada", "ningun", "ningún", " sin ", "aún no", "nunca")
        ), (text, words)


def test_a_fact_is_said_in_the_language_of_who_reads():
    from spread.contacts.relations import SharedWall

    assert say(SharedWall("103", 7.5), SPANISH) == "comparte 7,5 m de pared con 103"
    assert say(SharedWall("103", 7.5), Voice("es", "feet")) == "comparte 25 ft de pared con 103"
    assert SPANISH.percent(0.0004) == "<1\N{NO-BREAK SPACE}%"
    assert [SPANISH.ago(days) for days in (0, 1, 5, 30)] == ["hoy", "ayer", "hace 5 días", "hace 4 semanas"]


def test_a_message_without_a_translation_is_said_in_english():
    assert SPANISH.text("This is said nowhere.") == "This is said nowhere."
    assert set(string.Formatter().parse("{a}")) == {("", "a", "", None)}


def test_what_a_phone_sends_wrong_is_refused_in_spanish():
    """Every refusal that fingers on the round and the room page can bring about, down to its last word."""
    day, plan = dt.date(2026, 11, 25), made_plan(2, 3)
    base = {"id": "phone-answer-1", "unit": "101"}
    find = {"item": "mattress", "evidence": ["live"]}
    sent = [
        {"answer": "maybe"}, {"unit": "999", "answer": "clear"}, {"when": "2026-13-01", "answer": "clear"},
        {"answer": "found", "level": "vast"}, {"answer": "room", "items": []},
        {"answer": "room", "items": [{"item": "lamp-shade", "evidence": ["live"]}]},
        {"answer": "room", "items": [{"item": "mattres", "evidence": ["live"]}]},
        {"answer": "room", "items": [find | {"count": 10**6}], "method": "brief-visual", "level": "low"},
        {"answer": "room", "items": [find | {"metres": 99}], "method": "brief-visual", "level": "low"},
        {"answer": "room", "items": [find | {"photo": "http://x"}]},
        {"answer": "room", "items": [find | {"photo": "../x.jpg"}]},
        {"answer": "room", "items": [{"item": "mattress", "count": 3}]},
        {"answer": "room", "items": [find], "method": "dog"}, {"answer": "room", "items": "all"},
        {"answer": "room", "items": [find], "method": "brief-visual", "level": "nothing"},
        {"answer": "treated", "method": "fire"}, {"answer": "traps", "method": "net"},
        {"answer": "traps", "method": "interceptors", "caught": -1},
        {"answer": "traps", "method": "interceptors", "caught": 0, "days": 999},
        {"answer": "clear", "when": "2026-12-24", "method": "brief-visual"}, {"answer": "clear", "id": "x"},
    ]  # fmt: skip

    def taken(answer):
        fields = phone_fields(answer, plan, day, Log(), ("mattress", "sofa"))
        record_from_fields(fields, plan.units, file="records.csv", where=told("new row"), today=day)

    for answer in sent:
        with pytest.raises(SpreadError) as caught:
            taken(base | answer)
        english, spanish = str(caught.value), refusal(caught.value, SPANISH)
        assert refusal(caught.value, ENGLISH) == english
        kept = set(re.findall(r"'[^']*'|[a-z]+\.csv", english))
        words = lambda text: set(re.findall(r"[a-záéíóúñ]{4,}", text.lower()))  # noqa: E731
        same = words(spanish) & words(english) - words(" ".join(kept))
        assert same <= {"mattress", "items", "spread", "room", "photos"}, (answer, spanish)


def test_places_and_access_are_said_in_spanish():
    with pytest.raises(SpreadError) as caught:
        read_places("bench, sofa" + " x" * 40 + ", bed" * 12, file=told("sleeping places"))
    assert refusal(caught.value, SPANISH).splitlines() == [
        "lugares de dormir, lugar 1: 'bench' no es un lugar de dormir; empiece con bed (cama) o sofa (sofá), "
        "como en 'bed in room 1'.",
        "lugares de dormir, lugar 2: su nombre tiene más de 40 caracteres o signos raros; acórtelo a unas "
        "pocas palabras sencillas.",
        "lugares de dormir: se nombran 14 lugares; nombre hasta 12.",
    ]
    shut = access_on(
        [AccessRule("101", do_not_enter=True, why="llave perdida")], ["101"], dt.date(2026, 11, 25)
    )
    hours = access_on([AccessRule("101", 600, 1440, ("wed",))], ["101"], dt.date(2026, 11, 25))
    other = access_on([AccessRule("101", 600, 720, ("mon",))], ["101"], dt.date(2026, 11, 25))
    assert [say(one["101"], SPANISH) for one in (shut, hours, other)] == [
        "no entrar: llave perdida", "solo de 10:00 a 24:00", "no en este día",
    ]  # fmt: skip


def test_numbers_and_their_nouns_agree():
    followups = {
        str(n): SimpleNamespace(state=state) for n, state in enumerate(["cleared", "infested", "cleared"])
    }
    assert (
        states_counted(followups, SPANISH) == "1 con plaga, 0 en tratamiento, 0 en cierre, 2 casos cerrados"
    )
    assert "1 caso cerrado" in states_counted({"1": SimpleNamespace(state="cleared")}, SPANISH)
    assert SPANISH.many("{number} coming", "{number} coming", 1) == "1 próxima"
    assert SPANISH.many("{number} due", "{number} due", 1) == "1 que toca"


def test_a_small_chance_is_not_called_none():
    """*Probabilidad alguna* means no chance at all."""
    assert {SPANISH.term("chance", word) for word in CLASS_WORDS} == {
        "muy baja", "baja", "apreciable", "considerable", "alta", "muy alta",
    }  # fmt: skip

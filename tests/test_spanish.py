"""What a technician or a resident reads is there in Spanish, whole; no native speaker has read it yet."""

import string

import pytest
from catalogues import LOCALE, catalogue_of, parts, placeholders, translated

from spread.words import ENGLISH, Voice, say
from spread.words.phone import phone_words

SPANISH = Voice("es")
TECHNICIAN = (
    "registry", "contradictions", "credit", "doors", "duties", "followup", "methods",
    "musts", "paper", "phone", "reasons",
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
    assert SPANISH.percent(0.0004) == "<1%"
    assert [SPANISH.ago(days) for days in (0, 1, 5, 30)] == ["hoy", "ayer", "hace 5 días", "hace 4 semanas"]


def test_a_message_without_a_translation_is_said_in_english():
    assert SPANISH.text("This is said nowhere.") == "This is said nowhere."
    assert set(string.Formatter().parse("{a}")) == {("", "a", "", None)}

"""Rule sets: every field with its source, and a user's own file read or refused in clear sentences.

What the laws ask for was compared field by field with the facts gathered for the project (statutes, agency
pages and secondary pages, each named in the rule set itself); the figures repeated here are a second,
independent copy of those facts, so that a slip of the keyboard in a TOML file is seen.
"""

import tomllib
from importlib.resources import files

import pytest

from spread.errors import SettingsError
from spread.trade.rule_reading import parse_rules
from spread.trade.rule_set import CONFIDENCES, READ, Span
from spread.trade.rules import ALWAYS_SAY, DEFAULT, LEFT_OUT, load_rules, rule_ids
from spread.words import ENGLISH
from spread.words.duties import when_due

SETS = {name: load_rules(name) for name in rule_ids()}

OWN = """
id = "our-town"
title = "Our town"
authority = "City of Elm"
place = "Elm"
text = "Elm Code 1"
text_date = "2025-01-01"

[neighbours]
set = "LRUD"
source = "Elm Code 1"
read = "read"
confidence = "A"

[[deadlines]]
step = "inspect"
of = "neighbours"
from = "confirmed-find"
amount = 7
in = "calendar days"
source = "Elm Code 1"
read = "read"
confidence = "A"
"""


def origins(rules):
    yield from (d.origin for d in rules.deadlines)
    yield from (n.origin for n in rules.notices)
    yield from (k.origin for k in rules.keep)
    yield from (part.origin for part in (rules.neighbours, rules.applies) if part)
    if rules.dogs:
        yield rules.dogs[1]


def problems_of(text):
    with pytest.raises(SettingsError) as caught:
        parse_rules(text, "own.toml")
    assert len(caught.value.problems) == len(str(caught.value).splitlines()), "one sentence a problem"
    return str(caught.value)


def test_the_default_comes_first_and_every_file_has_the_id_of_its_name():
    assert rule_ids()[0] == DEFAULT == "good-practice"
    assert len(SETS) == 13
    for name, rules in SETS.items():
        assert rules.id == name
        assert name not in LEFT_OUT


@pytest.mark.parametrize("name", rule_ids())
def test_every_field_says_where_it_stands_and_weak_ones_are_left_out(name):
    """Only the default's own suggestions are weak, and they are called judgements."""
    for origin in origins(SETS[name]):
        assert origin.source
        assert origin.read in READ
        assert origin.confidence in CONFIDENCES
        assert (origin.confidence == "C") == (origin.read == "judgement")
        assert origin.confidence != "C" or name == DEFAULT
        assert origin.read != "from memory" or origin.confidence == "B"


@pytest.mark.parametrize("name", rule_ids())
def test_business_days_are_only_counted_by_a_calendar_of_the_place(name):
    rules = SETS[name]
    spans = [d.within for d in rules.deadlines if d.within] + [n.lead for n in rules.notices]
    if any(span.counted_in == "business days" for span in spans):
        assert rules.calendar is not None


def spans(name):
    return {(d.step, d.of, d.event): d.within for d in SETS[name].deadlines}


@pytest.mark.parametrize(
    ("name", "deadline", "amount", "counted_in"),
    [
        # HUD Notice PIH-2012-17, read second-hand
        ("hud-public-housing", ("contact", "source", "report"), 24, "hours"),
        ("hud-public-housing", ("inspect", "source", "report"), 3, "business days"),
        ("hud-public-housing", ("inspect", "neighbours", "report"), 3, "business days"),
        # Philadelphia Code 9-4802, read
        ("philadelphia", ("acknowledge", "source", "report"), 5, "business days"),
        ("philadelphia", ("inspect", "source", "report"), 10, "business days"),
        ("philadelphia", ("result-notice", "source", "inspection"), 5, "business days"),
        # Chicago Municipal Code 7-28 art. VIII, read second-hand
        ("chicago", ("inspect", "source", "report"), 10, "calendar days"),
        # C.R.S. 38-12-1003, read (hours second-hand)
        ("colorado", ("inspect", "source", "report"), 96, "hours"),
        ("colorado", ("begin-treatment", "source", "confirmed-find"), 5, "business days"),
        ("colorado", ("inspector-report", "source", "inspection"), 24, "hours"),
        ("colorado", ("result-notice", "source", "inspection"), 2, "business days"),
        # 14 M.R.S. 6021-A, read
        ("maine", ("inspect", "source", "report"), 5, "calendar days"),
        ("maine", ("engage-agent", "source", "find"), 10, "calendar days"),
        # N.H. RSA 540-A:3, read second-hand
        ("new-hampshire", ("inspect", "source", "report"), 7, "calendar days"),
        # Conn. Gen. Stat. 47a-7a: from memory; result second-hand
        ("connecticut", ("inspect", "source", "report"), 5, "business days"),
        ("connecticut", ("result-notice", "source", "inspection"), 2, "calendar days"),
        # Cal. Civ. Code 1954.600-605, read second-hand
        ("california", ("result-notice", "source", "inspection"), 2, "business days"),
        # South Bend Code 6-102/103, read
        ("south-bend", ("begin-treatment", "source", "confirmed-find"), 5, "business days"),
        ("south-bend", ("result-notice", "source", "inspection"), 2, "business days"),
        # Toronto Municipal Code ch. 354, read second-hand
        ("toronto", ("acknowledge", "source", "report"), 7, "calendar days"),
    ],
)  # fmt: skip
def test_a_deadline_is_what_its_source_says(name, deadline, amount, counted_in):
    assert spans(name)[deadline] == Span(amount, counted_in)


def test_who_counts_as_a_neighbour_is_what_the_sources_say():
    """All contiguous units: Colorado and South Bend; the others beside, above and below."""
    sets = {name: rules.neighbours.set for name, rules in SETS.items() if rules.neighbours}
    lrud = ("good-practice", "hud-public-housing", "new-york-city", "philadelphia", "new-hampshire")
    assert sets == dict.fromkeys(lrud, "LRUD") | {"colorado": "CONTIGUOUS", "south-bend": "CONTIGUOUS"}
    assert SETS["philadelphia"].neighbours.least_units == 4


def test_only_colorado_lets_a_dog_team_inspect():
    assert [name for name, rules in SETS.items() if rules.dogs_count] == ["colorado"]


def test_the_default_asks_for_48_hours_notice_and_three_years_of_records():
    rules = load_rules()
    assert [notice.lead for notice in rules.notices] == [Span(48, "hours")]
    assert [keep.years for keep in rules.keep] == [3]


def test_what_is_always_said_sends_people_to_their_local_code():
    for words in ("local code", "may have changed", "not legal advice"):
        assert words in ALWAYS_SAY


def test_a_user_can_write_a_rule_set_of_their_own(tmp_path):
    (tmp_path / "own.toml").write_text(OWN, encoding="utf-8")
    rules = load_rules("own.toml", tmp_path)
    assert rules.triggers == ("confirmed-find",)
    assert when_due(rules.deadlines[0], ENGLISH) == "within 7 calendar days of the confirmed find"
    assert load_rules(str(tmp_path / "own.toml")) == rules


def test_an_unknown_rule_set_is_said_with_the_nearest_one():
    with pytest.raises(SettingsError, match="there is no rule set 'colorada'; write 'colorado'"):
        load_rules("colorada")
    with pytest.raises(SettingsError, match=r"'zzz'; use one of good-practice, .*or the path of a TOML file"):
        load_rules("zzz")


def test_an_authority_that_was_left_out_is_refused_with_the_reason():
    with pytest.raises(SettingsError, match=r"Director's Rules.* were not seen"):
        load_rules("san-francisco")


def test_a_missing_file_is_one_sentence(tmp_path):
    with pytest.raises(SettingsError, match=r"^gone\.toml: there is no such file; check the path\.$"):
        load_rules("gone.toml", tmp_path)


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('in = "calendar days"', 'in = "days"', "does not say which days"),
        ('in = "calendar days"', 'in = "weeks"', "'weeks' is not known"),
        ('in = "calendar days"\n', "", "it is missing beside amount = 7"),
        ("amount = 7", 'amount = "7"', "expected a whole number from 0 to 3660"),
        ("amount = 7", "amount = -7", "expected a whole number"),
        ("amount = 7\n", "", "field 'amount': it is missing"),
        ('amount = 7\nin = "calendar days"\n', "", "it says nothing about time"),
        ("amount = 7", 'amount = 7\nwords = "soon"', "it says two things about time"),
        ('step = "inspect"', 'step = "inspct"', "'inspct' is not known; write 'inspect' if you mean that"),
        (
            'from = "confirmed-find"',
            'form = "confirmed-find"',
            "'form': it is not known; did you mean 'from'",
        ),
        ('from = "confirmed-find"\n', "", "field 'from': it is missing"),
        ('set = "LRUD"', 'set = "NSEW"', "'NSEW' is not known"),
        ('confidence = "A"', 'confidence = "D"', "'D' is not known"),
        ('read = "read"', 'read = "raed"', "write 'read' if you mean that"),
        ('source = "Elm Code 1"\n', "", "field 'source': it is missing; say where it stands"),
        ('id = "our-town"', 'id = "Our Town"', "small letters, digits and hyphens"),
        ("[neighbours]", "[neighbors]", "did you mean 'neighbours'"),
        ('title = "Our town"', "title = 5", "it is a whole number, expected text"),
        ('id = "our-town"', "id = our-town", "it is not TOML"),
        ("[[deadlines]]", "[deadlines]", "expected tables [[deadlines]]"),
        ("[neighbours]", 'dogs = "yes"\n[neighbours]', "start its fields with a line [dogs]"),
        ("[neighbours]", "[dogs]\ncount = 1\n[neighbours]", "expected true or false"),
    ],
)
def test_a_slip_in_a_file_of_ones_own_gets_a_sentence(old, new, said):
    assert old in OWN
    assert said in problems_of(OWN.replace(old, new, 1))


def test_every_slip_of_a_file_is_said_at_once():
    text = (
        OWN.replace("amount = 7", "amount = 0.5")
        .replace('step = "inspect"', 'stp = "x"')
        .replace("title", "titel")
    )
    said = problems_of(text)
    for word in ("amount", "stp", "step", "titel", "title"):
        assert f"field '{word}'" in said


def test_two_deadlines_for_the_same_are_refused():
    block = OWN[OWN.index("[[deadlines]]") :]
    assert "two of them are inspect, neighbours, confirmed-find" in problems_of(OWN + block)


def test_a_deadline_for_neighbours_needs_to_know_who_they_are():
    start, end = OWN.index("[neighbours]"), OWN.index("[[deadlines]]")
    assert "a deadline asks for neighbours" in problems_of(OWN[:start] + OWN[end:])


def test_every_key_of_the_files_is_read():
    """A key nobody reads would be refused, so this sees that the refusing works on the files themselves."""
    for entry in (files("spread.trade") / "rules").iterdir():
        text = entry.read_text(encoding="utf-8")
        assert tomllib.loads(text)["id"] == entry.name.removesuffix(".toml")
        assert "field 'spare': it is not known" in problems_of('spare = "x"\n' + text)

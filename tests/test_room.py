"""The room sheet: its rows, a firm's own, the order of looking, what is printed."""

from __future__ import annotations

import datetime as dt
import io
import json
import math
import re
import shutil
import tomllib
from dataclasses import replace
from gettext import NullTranslations
from importlib.resources import files

import pytest
from buildings import CODES, ON, make_building, row
from contact_plans import corridor_building, plan_of
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Point, box

from spread import cli
from spread.decisions.room.sheet import SleepingPlace, read_places, room_sheet
from spread.errors import SettingsError, SpreadError
from spread.records.items import read_items
from spread.records.kinds import Finding
from spread.records.log import Log
from spread.records.store import append_record
from spread.report.document import texts_of
from spread.report.pdf import write_pdf
from spread.report.room_text import known_words, room_data, room_sheet_document, room_text
from spread.trade.room import (
    GROUPS,
    RINGS,
    ROOM_FILE,
    SEATS,
    SLEEPING,
    SLEEPING_ROWS,
    load_room,
    parse_room,
    read_room,
)
from spread.trade.sources import COMMON_PRACTICE, CONFIDENCES
from spread.words import ENGLISH, Voice, say
from spread.words import voice as voice_module

OURS = load_room()
FURNITURE = [item.code for item in OURS.items if item.furniture]
SHOWN = [code for code in OURS.by_code if code not in FURNITURE]  # in a home that has none of those
TEXT = files("spread.trade").joinpath(ROOM_FILE).read_text(encoding="utf-8")
PLAN = corridor_building(2, 3)

FIRM = """
name = "Our rooms"
weights_source = "common practice, no source"

[[items]]
code = "bed"
name = "Bed"
group = "bed"
ring = 0
weight = 0.75
look = "All of it."
evidence = "Bugs"
treat = "Steam."
product = "As the label says."
caution = "Burns."
source = "common practice, no source"

[[items]]
code = "couch"
name = "Couch"
group = "seating"
ring = 3
weight = 0.25
look = "Under it."
evidence = "Bugs"
treat = "Steam."
product = "As the label says."
caution = "Two people lift."
tools = ["steamer"]
source = "our own log"
confidence = "C"
"""


def faults(text):
    with pytest.raises(SettingsError) as caught:
        parse_room(text)
    return [str(problem) for problem in caught.value.problems]


# The rows.


def test_every_row_is_whole_and_says_where_it_is_from():
    assert len(OURS.items) >= 20
    for item in OURS.items:
        assert item.group in GROUPS
        assert 0 <= item.ring < len(RINGS)
        for words in (item.name, item.look, item.evidence, item.treat, item.product, item.caution):
            assert words == words.strip()
            assert len(words) > 3
        assert item.tools
        assert (item.source == COMMON_PRACTICE and not item.confidence) or item.confidence in CONFIDENCES
    for note in OURS.notes:
        assert note.source == COMMON_PRACTICE or note.confidence in CONFIDENCES


@pytest.mark.parametrize(
    ("code", "words"),
    [
        # Common practice, no source: the rows and their steps.
        ("headboard", ["beading", "joints", "dry steam only", "no pesticide"]),
        ("pictures", ["above the bed", "paper backing", "dust only"]),
        ("outlets", ["power off", "cover off", "dust only", "jacks"]),
        ("door-stop", ["dry steam", "diatomaceous earth"]),
        ("baseboard", ["behind the bed", "carpet edge", "tack strip", "lift", "steam", "dust", "refit"]),
        ("nightstand", ["drawers out", "steam inside", "flip", "underside", "back", "unscrew"]),
        ("dresser", ["drawers out", "steam inside", "flip", "underside", "back"]),
        ("lamp", ["shade", "steam"]),
        ("curtains", ["touch the floor", "ruffles", "steam the rod", "only where there are signs"]),
        ("mattress", ["tufts", "piping", "fringe", "on top", "turn it over"]),
        ("bed-skirt", ["touches the floor", "off for 90 days or until the unit is cleared"]),
        ("box-spring", ["fringe", "corner protectors", "off", "staple", "encase"]),
        (
            "bed-frame",
            [
                "every joint",
                "weld",
                "screw",
                "bolt",
                "wheel",
                "support",
                "steam",
                "dust",
                "interceptor under",
            ],
        ),
        ("interceptors", ["talc", "outer channel", "every support"]),
        # Section 8 of the trade's cautions: steam burns; the label; two people; N95; lead; alarms.
        ("mattress", ["no pesticide on a mattress unless the label allows it"]),
        ("outlets", ["verify dead", "never steam or liquid"]),
        ("wallpaper", ["1978", "lead"]),
        ("wall-ceiling", ["never disable an alarm"]),
        ("sofa", ["two people lift", "pinch"]),
        ("baseboard", ["n95", "no visible piles"]),
        ("closet", ["throw nothing away for the resident"]),
    ],
)
def test_the_rows_say_what_the_trade_does(code, words):
    item = OURS.by_code[code]
    said = " ".join((item.name, item.look, item.evidence, item.treat, item.product, item.caution)).lower()
    assert [word for word in words if word not in said] == []


def test_the_notes_hold_for_the_whole_room():
    said = " ".join(note.text for note in OURS.notes)
    for words in ("5 to 7 feet", "both its back and its belly", "Five moults", "stains are signs", "label"):
        assert words in said


def test_weights_are_those_of_the_harborage_counts():
    """Box spring .32, mattress .21, seating .21, frame and headboard .14, nightstand and dresser .03,
    baseboard .03, wall/ceiling and pictures .02, curtains .01, outlets and electronics .01, other .02:
    suggested from Potter et al. 2006 (PCT Aug 2006) and Psyche 2014:762704, confidence C past the first
    four.
    """
    by = {code: item.weight for code, item in OURS.by_code.items()}
    for codes, share in (
        (("box-spring",), 0.32), (("mattress",), 0.21), (("sofa", "chair"), 0.21),
        (("bed-frame", "headboard"), 0.14), (("nightstand", "dresser"), 0.03), (("baseboard",), 0.03),
        (("wall-ceiling", "pictures"), 0.02), (("curtains",), 0.01), (("outlets", "electronics"), 0.01),
    ):  # fmt: skip
        assert math.fsum(by.pop(code) for code in codes) == pytest.approx(share, abs=1e-12)
    assert math.fsum(by.values()) == pytest.approx(0.02, abs=1e-12)


def test_a_sofa_sleeper_swaps_the_weights_of_bed_and_seating():
    swapped = {item.code: OURS.weight(item, "sofa") for item in OURS.items}
    bed = [item for item in OURS.items if item.group == "bed"]
    assert math.fsum(swapped[item.code] for item in bed) == pytest.approx(0.21)
    assert swapped["sofa"] + swapped["chair"] == pytest.approx(0.32 + 0.21 + 0.14 + 0.005 + 0.002)
    assert swapped["sofa"] / swapped["chair"] == pytest.approx(2.0)
    assert math.fsum(swapped.values()) == pytest.approx(1.0)
    assert swapped["lamp"] == OURS.by_code["lamp"].weight
    assert OURS.ring(OURS.by_code["sofa"], "sofa") == 0 < OURS.ring(OURS.by_code["mattress"], "sofa")


def test_no_row_names_a_dose():
    # A number with a unit of volume, weight or strength anywhere but in the share of bugs of a source.
    for item in OURS.items:
        said = " ".join((item.look, item.treat, item.product, item.caution))
        assert not re.search(r"\d\s*(%|ml|oz|g\b|l\b|gal|ppm|lb)", said), item.code


@pytest.mark.parametrize("kind", SLEEPING)
def test_every_kind_of_sleeping_place_has_its_row_and_weights_that_sum_to_one(kind):
    shares = {item.code: OURS.weight(item, kind) for item in OURS.items}
    assert math.fsum(shares.values()) == pytest.approx(1.0)
    assert max(shares, key=shares.get) in SLEEPING_ROWS[kind]
    for code in SLEEPING_ROWS[kind]:
        assert OURS.ring(OURS.by_code[code], kind) == 0
        assert kind in OURS.by_code[code].at
    sheet = room_sheet("101", PLAN, OURS, places=[SleepingPlace(kind, kind)])
    first = [row.item.code for row in sheet.rows[: 6 if kind not in SEATS else 2]]
    assert set(SLEEPING_ROWS[kind]) <= set(first), "what is slept on is taken apart before the room"
    assert {row.item.code for row in sheet.rows if row.item.furniture} <= {kind}


def test_devices_of_medicine_are_looked_at_and_never_treated_by_us():
    for code in ("hospital-bed", "wheelchair", "medical-device"):
        item = OURS.by_code[code]
        assert item.treat.startswith("None by us: ask whoever looks after it, or its maker"), code
        assert item.product == "None."
        assert item.tools == ("light",)
    assert "Write the thing, never whose." in OURS.by_code["medical-device"].caution
    assert "Oxygen burns" in OURS.by_code["medical-device"].caution


@pytest.mark.parametrize("line", ["hospital bed, wheelchair", "cot 1, Bunk bed in room 2, floor-bed"])
def test_other_furniture_is_read_in_two_words_or_one(line):
    kinds = [place.kind for place in read_places(line)]
    assert kinds == (
        ["hospital-bed", "wheelchair"] if "hospital" in line else ["cot", "bunk-bed", "floor-bed"]
    )
    assert read_places("Bunk bed in room 2")[0].name == "bunk-bed in room 2"


def test_finds_are_told_by_their_distance_from_the_bed_beside_what_is_published():
    items = read_items(
        "mattress: live; headboard: live, 0.4 m; sofa: live, 6 m; lamp: stains, 1 m; chair: live"
    )
    log = Log((row("102", 9, method="thorough-visual", found="yes", items=items),))
    (fact,) = room_sheet("101", PLAN, OURS, log=log, on=ON).known
    assert (fact.finds, fact.within, fact.near) == (3, 2, 2), "the chair has no distance and the lamp no bugs"
    assert (fact.published.low, fact.published.high) == (0.85, 0.90)
    assert say(fact, ENGLISH) == (
        "Of 3 places with bugs on record in this building, as far as their distance is, 2 were within 2.1 m "
        "of the bed and 2 within 4.6 m; published: 85 to 90 of 100 bugs within 4.6 m (NDSU Extension, "
        "ndsu.edu/agriculture/node/1984 (the middle is ours); the share within 1 or 2 m was found in no "
        "field study; confidence B)."
    )
    assert room_sheet("101", PLAN, OURS, log=Log(()), on=ON).known == ()


# A firm's own sheet.


def test_a_firms_sheet_stands_in_place_of_ours(tmp_path):
    (tmp_path / ROOM_FILE).write_text(FIRM, encoding="utf-8")
    sheet = load_room(tmp_path)
    assert [item.code for item in sheet.items] == ["bed", "couch"]
    assert sheet.weight(sheet.items[1], "sofa") == 0.75
    assert load_room(tmp_path / "nowhere").items == OURS.items


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ('code = "couch"', 'code = "Couch 1"', "items 2 (Couch 1), field 'code': it is 'Couch 1'; use small"),
        ('code = "couch"', 'code = "bed"', "code 'bed' is there twice; give each row a code of its own"),
        ('group = "seating"', 'group = "seats"', "field 'group': 'seats' is not known"),
        ("ring = 3", "ring = 9", "field 'ring': it is '9', expected a whole number from 0 to 4"),
        ("ring = 3", "ring = 1.5", "field 'ring': it is '1.5', expected a whole number"),
        ("weight = 0.25", "weight = 0.5", "the weights of all rows sum to 1.250, expected 1"),
        ("weight = 0.25", 'weight = "much"', "field 'weight': it is 'much', expected a number from 0 to 1"),
        ("weight = 0.25", "weight = nan", "field 'weight': it is 'nan', expected a number"),
        ('look = "Under it."', "", "items 2 (couch), field 'look': it is missing; write look"),
        ('look = "Under it."', 'look = "  "', "field 'look': it is empty"),
        ('look = "Under it."', 'look = "' + "x" * 401 + '"', "it has 401 characters, more than 400; shorten"),
        ('confidence = "C"', "", "field 'confidence': it is missing"),
        ('confidence = "C"', 'confidence = "D"', "field 'confidence': 'D' is not known"),
        ('source = "our own log"', "", "field 'source': it is missing"),
        ('tools = ["steamer"]', 'tools = "steamer"', "field 'tools': it is not a list of texts"),
        ('tools = ["steamer"]', 'at = ["bench"]', "field 'at': 'bench' is no kind of sleeping place"),
        ('tools = ["steamer"]', 'tool = ["steamer"]', "field 'tool': it is not known; did you mean 'tools'"),
        ('product = "As the label says."\ncaution = "Two', 'product = "30 ml per litre."\ncaution = "Two',
         "field 'product': '30 ml' reads as a dose; write 'as the label says'"),
        ('caution = "Two people lift."', 'caution = "Mix 0.5 %."', "'0.5 %' reads as a dose"),
        ('weights_source = "common practice, no source"', "", "field 'weights_source': it is missing"),
        ("[[items]]", "[[item]]", "field 'item': it is not known; did you mean 'items'"),
        ("ring = 3", "ring = ", "it is not TOML"),
    ],
)  # fmt: skip
def test_a_slip_in_a_firms_sheet_is_one_clear_sentence(old, new, says):
    assert old in FIRM
    sentences = faults(FIRM.replace(old, new))
    assert any(says in sentence for sentence in sentences), sentences
    assert all(sentence.startswith("room.toml") and "\n" not in sentence for sentence in sentences)


def test_all_slips_of_a_sheet_are_told_at_once():
    spoiled = FIRM.replace("ring = 3", "ring = 9").replace('group = "bed"', 'group = "beds"')
    spoiled = spoiled.replace('confidence = "C"', 'confidence = "C"\nprice = 3')
    assert len(faults(spoiled)) >= 3


@pytest.mark.parametrize("data", [b"\xff\xfea", b"a" * 200_001])
def test_a_file_that_is_no_sheet_is_told_in_a_sentence(data, tmp_path):
    (tmp_path / ROOM_FILE).write_bytes(data)
    with pytest.raises(SettingsError, match=r"room\.toml"):
        read_room(tmp_path / ROOM_FILE)


def test_our_sheet_is_plain_toml_that_a_firm_can_copy_and_edit(tmp_path):
    assert len(tomllib.loads(TEXT)["items"]) == len(OURS.items)
    (tmp_path / ROOM_FILE).write_text(TEXT.replace('name = "Room sheet"', 'name = "Ours"'), encoding="utf-8")
    assert load_room(tmp_path).name == "Ours"


# The sheet of a unit.


def test_the_order_can_be_worked_with_hands_and_then_goes_outwards_likeliest_first():
    """Bedding comes off before the mattress, and that before the box spring that it lies on."""
    sheet = room_sheet("101", PLAN, OURS)
    assert [row.item.code for row in sheet.rows[:6]] == [
        "bedding", "bed-skirt", "mattress", "box-spring", "bed-frame", "headboard",
    ]  # fmt: skip
    keys = [(row.ring, -row.weight) for row in sheet.rows[6:]]
    assert keys == sorted(keys)
    assert [row.item.code for row in sheet.checks] == ["interceptors", "encasement"]
    assert {row.item.code for row in (*sheet.rows, *sheet.checks)} == set(SHOWN)
    sofa = room_sheet("101", PLAN, OURS, places=[SleepingPlace("sofa", "sofa")])
    assert [row.item.code for row in sofa.rows[:2]] == ["sofa", "chair"]
    both = room_sheet("101", PLAN, OURS, places=[SleepingPlace("sofa", "sofa"), SleepingPlace("bed", "bed")])
    codes = [row.item.code for row in both.rows]
    assert codes[:8] == [
        "bedding", "bed-skirt", "mattress", "box-spring", "bed-frame", "headboard", "sofa", "chair",
    ]  # fmt: skip


def test_a_sofa_with_live_bugs_is_offered_as_a_sleeping_place():
    live = Finding("sofa", frozenset({"live"}))
    for items, names in (
        ((live,), ["bed", "sofa"]),
        ((Finding("sofa"),), ["bed"]),
        ((Finding("sofa", place="sofa 1"), Finding("sofa", place="sofa 2")), ["sofa 1", "sofa 2"]),
        ((Finding("mattress", place="bed 1"), Finding("mattress", place="bed 2")), ["bed 1", "bed 2"]),
    ):
        log = Log((row("101", 3, found="yes" if live in items else "no", items=items),))
        assert [place.name for place in room_sheet("101", PLAN, OURS, log=log).places] == names


@settings(max_examples=40, deadline=None)
@given(st.lists(st.sampled_from(["bed", "sofa"]), min_size=1, max_size=6))
def test_weights_of_several_sleeping_places_sum_to_one_and_each_row_names_its_places(kinds):
    places = [SleepingPlace(kind, f"{kind} {i}") for i, kind in enumerate(kinds)]
    sheet = room_sheet("101", PLAN, OURS, places=places)
    assert math.fsum(row.weight for row in sheet.rows) == pytest.approx(1.0)
    by = {row.item.code: row.places for row in sheet.rows}
    assert by["mattress"] == tuple(place for place in places if place.kind == "bed")
    assert by["sofa"] == tuple(place for place in places if place.kind == "sofa")
    assert by["baseboard"] == tuple(places)
    assert by["luggage"] == ()


def test_beds_of_the_plan_are_the_sleeping_places_unless_others_are_named():
    plan = plan_of({"A": box(0, 0, 8, 8)}, beds=[("A", "1", (2, 2)), ("A", "1", (6, 6))])
    assert [place.name for place in room_sheet("A", plan, OURS).places] == ["bed 1", "bed 2"]
    named = room_sheet("A", plan, OURS, places=read_places("sofa in the hall"))
    assert named.places == (SleepingPlace("sofa", "sofa in the hall"),)


def test_places_are_read_from_a_line():
    assert read_places("bed in  room 1, Sofa") == (
        SleepingPlace("bed", "bed in room 1"),
        SleepingPlace("sofa", "Sofa"),
    )
    assert [place.name for place in read_places("bed, bed, bed by the door, bed by the door")] == [
        "bed 1", "bed 2", "bed by the door (1)", "bed by the door (2)",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "place 1: '' is no sleeping place; begin it with bed or sofa"),
        ("bed, ", "place 2: '' is no sleeping place"),
        ("couch", "place 1: 'couch' is no sleeping place; begin it with bed or sofa"),
        ("beds in room 1", "begin it with 'bed'"),
        ("bed " + "x" * 40, "its name is longer than 40 characters"),
        ("bed a:b", "has odd marks"),
        (",".join(["bed"] * 13), "13 places are named; name up to 12"),
    ],
)
def test_a_slip_in_the_places_is_one_sentence(text, says):
    with pytest.raises(SettingsError) as caught:
        read_places(text)
    assert any(says in str(problem) for problem in caught.value.problems)


def test_an_unknown_unit_is_named_with_the_nearest():
    with pytest.raises(SpreadError, match="there is no unit '1O1'; write '101'"):
        room_sheet("1O1", PLAN, OURS)


def test_the_sheet_knows_what_was_seen_there_and_warns_of_old_stains():
    seen = row("101", 20, method="thorough-visual", found="yes", evidence="live",
               items=read_items("headboard: live, 12; sofa: nothing; encasement: nothing, torn"))  # fmt: skip
    later = row("101", 2, found="yes", evidence="stains", items=read_items("headboard: stains, at bed 1"))
    treated = row("101", 10, "treatment", "spray")
    log = Log((seen, treated, later))
    sheet = room_sheet("101", PLAN, OURS, log=log, on=ON)
    last = {one.item.code: one.last and say(one.last, ENGLISH) for one in (*sheet.rows, *sheet.checks)}
    assert last["headboard"] == "stains, bed 1 (Mon 13 May 2024)"
    assert last["sofa"] == "nothing seen (Thu 25 Apr 2024)"
    assert last["encasement"] == "torn (Thu 25 Apr 2024)"
    assert last["lamp"] is None
    assert any(
        words.startswith("Treated on Sun 5 May 2024: old stains") for words in known_words(sheet, ENGLISH)
    )
    before = room_sheet("101", PLAN, OURS, log=log, on=ON - dt.timedelta(days=15))
    (headboard,) = (one for one in before.rows if one.item.code == "headboard")
    assert say(headboard.last, ENGLISH) == "live, 12 (Thu 25 Apr 2024)"
    assert not any("Treated" in words for words in known_words(before, ENGLISH))


def test_a_bed_at_the_wall_of_a_known_infested_unit_is_said():
    plan = plan_of({"A": box(0, 0, 5, 5), "B": box(5.2, 0, 10, 5)}, beds=[("A", "1", (4, 2.5))])
    log = Log((row("B", 9, method="thorough-visual", found="yes", level="low"),))
    known = known_words(room_sheet("A", plan, OURS, log=log, on=ON), ENGLISH)
    assert "The bed has within 2.1 m: the wall to B (1.0 m away)." in known
    assert any(
        "under treatment, and within reach of the bed: B. Start on that side" in words for words in known
    )


def test_the_outlets_within_reach_of_a_bed_are_named_in_their_row_with_their_caution():
    """Distances by hand: the bed at (4, 2.5), an outlet on the wall 1 m away and one 2.6 m away."""
    plan = plan_of(
        {"A": box(0, 0, 5, 5), "B": box(5.2, 0, 10, 5)},
        beds=[("A", "1", (4, 2.5))],
        outlets=[("A", "1", (5, 2.5)), ("A", "1", (3, 4.9))],
    )
    sheet = room_sheet("A", plan, OURS)
    told = {row.item.code: say(row.near, ENGLISH) for row in sheet.rows if row.near}
    assert told == {
        "outlets": "Within 2.1 m of the bed: outlet O0 (1.0 m away, on the wall to B). "
        "Cover off only with the power off; dust only."
    }
    assert told["outlets"] in " ".join(room_text(sheet).split())
    assert {row["code"]: row["near"] for row in room_data(sheet)["rows"] if row["near"]} == told
    assert told["outlets"] in str(room_sheet_document(sheet).blocks)
    more = replace(plan, beds=(*plan.beds, replace(plan.beds[0], id="B1", at=Point(3.5, 3.5))))
    (near,) = (say(row.near, ENGLISH) for row in room_sheet("A", more, OURS).rows if row.near)
    # Each as far as from the nearest bed: (3, 4.9) is sqrt(0.25 + 1.96) = 1.49 m from (3.5, 3.5).
    assert near.startswith(
        "Within 2.1 m of a bed: outlet O0 (1.0 m away, on the wall to B); outlet O1 (1.5 m"
    )
    bare = room_sheet("A", replace(plan, outlets=()), OURS)
    assert not any(row.near for row in (*bare.rows, *bare.checks))
    assert "Here:" not in room_text(bare)


def test_a_reader_of_feet_and_spanish_gets_the_same_facts():
    """By hand: 1.0 m is 3.3 ft, 2.1 m is 6.9 ft; a date needs no catalogue."""
    plan = plan_of({"A": box(0, 0, 5, 5), "B": box(5.2, 0, 10, 5)}, beds=[("A", "1", (4, 2.5))])
    log = Log((row("A", 10, "treatment", "spray"),))
    sheet = room_sheet("A", plan, OURS, log=log, on=ON)
    feet = Voice("en", "feet")
    assert "The bed has within 6.9 ft: the wall to B (3.3 ft away)." in known_words(sheet, feet)
    assert "within 6.9 ft of it" in room_text(sheet, feet)
    assert "dom 5 may 2024" in " ".join(known_words(sheet, Voice("es")))
    assert room_data(sheet)["facts"] == [{"fact": "treated-on", "when": "2024-05-05"}]


class Hidden(NullTranslations):
    """A catalogue of a language that has no letters but ``x``."""

    def gettext(self, message):
        return re.sub(r"(?<![{A-Za-z_])[A-Za-z]+(?![A-Za-z_]*})", "x", message)

    def ngettext(self, one, more, number):
        return self.gettext(one if number == 1 else more)

    def pgettext(self, context, message):
        return re.sub("[A-Za-z]+", "x", message)


def test_every_text_of_a_sheet_goes_through_the_catalogue(monkeypatch):
    monkeypatch.setattr(voice_module, "catalogue", lambda language: Hidden())
    plan = plan_of(
        {"A": box(0, 0, 5, 5), "B": box(5.2, 0, 10, 5)},
        beds=[("A", "1", (4, 2.5))],
        outlets=[("A", "1", (5, 2.5))],
    )
    found = row("A", 9, method="thorough-visual", found="yes", items=read_items("headboard: live, 12, torn"))
    log = Log((found, row("A", 8, "treatment", "spray"), row("B", 9, found="yes", level="low")))
    sheet = room_sheet("A", plan, OURS, log=log, on=ON, chance=0.2)
    said = [*texts_of(room_sheet_document(sheet)), *known_words(sheet, ENGLISH)]
    left = {word for text in said for word in re.findall("[A-Za-z]{2,}", text)}
    assert len(sheet.known) == 4
    assert left <= {"Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun", "May", "and", *plan.name.split()}


# What is printed.


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return make_building(tmp_path_factory.mktemp("room") / "maple-row", [])


def test_the_command_prints_every_row_its_caution_and_its_source(folder, capsys):
    assert cli.main(["room", str(folder), "101", "--on", ON.isoformat()]) == 0
    out = capsys.readouterr().out
    flat = " ".join(out.split())
    for item in map(OURS.by_code.get, SHOWN):
        for words in (item.name, item.look, item.treat, item.product, item.caution, item.source):
            assert words in flat
    assert out.startswith("Room sheet: unit 101, Maple Row, Wed 15 May 2024")
    assert max(map(len, out.splitlines())) <= 100


def test_json_holds_what_the_text_says(folder, capsys):
    assert cli.main(["room", str(folder), "101", "--places", "bed 1, sofa", "--json"]) == 0
    data = json.loads(capsys.readouterr().out)
    assert [place["name"] for place in data["places"]] == ["bed 1", "sofa"]
    assert {one["code"] for one in (*data["rows"], *data["checks"])} == set(SHOWN)
    assert data["rows"][0]["ring_words"] == "where people sleep"
    assert cli.main(["room", str(folder), "101", "--sofa", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["places"] == [{"kind": "sofa", "name": "sofa"}]


def test_a_firms_broken_sheet_stops_the_command_with_its_sentences(folder, tmp_path, capsys):
    own = tmp_path / "own"
    shutil.copytree(folder, own)
    (own / ROOM_FILE).write_text(FIRM.replace("ring = 3", "ring = 9"), encoding="utf-8")
    assert cli.main(["check", str(own)]) == 2
    assert "field 'ring': it is '9'" in capsys.readouterr().err
    assert cli.main(["room", str(own), "101"]) == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert said.err.startswith("room.toml, items 2 (couch), field 'ring': it is '9'")
    (own / ROOM_FILE).write_text(FIRM, encoding="utf-8")
    assert cli.main(["room", str(own), "101"]) == 0
    assert "1. Bed: 75 of 100 bugs; where people sleep" in capsys.readouterr().out


def test_an_item_that_the_sheet_does_not_have_is_not_recorded(folder, capsys):
    log = folder / "records.csv"
    argv = ["record", str(folder), "--unit", "101", "--kind", "inspection", "--method", "brief-visual",
            "--found", "yes", "--when", ON.isoformat(), "--items"]  # fmt: skip
    assert cli.main([*argv, "hedboard: live"]) == 2
    assert "has no item 'hedboard'; write 'headboard' if that is meant." in capsys.readouterr().err
    assert not log.exists()
    assert cli.main([*argv, "headboard: live, 2"]) == 0
    assert "found, trace, 2 bugs counted, live; at headboard (2)" in capsys.readouterr().out
    log.unlink()


def test_text_and_data_of_a_sheet_never_promise_a_clear_unit():
    sheet = room_sheet("101", PLAN, OURS, chance=0.01)
    words = room_text(sheet) + json.dumps(room_data(sheet))
    assert not re.search(r"\bclear\b", words)
    assert "no reason to look less well" in words


# On paper.


def pages_of(pdf):
    # Outside reader: pypdf.
    pypdf = pytest.importorskip("pypdf")
    return [page.extract_text() for page in pypdf.PdfReader(io.BytesIO(pdf)).pages]


@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize("line", ["bed", "bed in room 1, bed in room 2, sofa in the living room"])
def test_the_sheet_prints_on_one_page_with_every_row_on_it(paper, line):
    pytest.importorskip("typst")
    sheet = room_sheet("101", PLAN, OURS, places=read_places(line), on=ON)
    (page,) = pages_of(write_pdf(room_sheet_document(sheet), paper))
    words = "".join(page.split())
    for item in map(OURS.by_code.get, SHOWN):
        for text in (item.name, item.caution):
            assert "".join(text.split()) in words, text


def test_the_page_holds_what_the_rows_say():
    sheet = room_sheet("101", PLAN, OURS, on=ON)
    said = " ".join(texts_of(room_sheet_document(sheet)))
    for item in map(OURS.by_code.get, SHOWN):
        for text in (item.name, item.look, item.evidence, item.treat, item.caution, item.source):
            assert text in said
    assert "One look clears no unit" in said


def test_pages_are_written_whole_or_not_at_all(folder, tmp_path, capsys):
    pytest.importorskip("typst")
    html, pdf = tmp_path / "sheet.html", tmp_path / "sheet.pdf"
    argv = ["room", str(folder), "101", "--on", ON.isoformat(), "--paper", "letter"]
    assert cli.main([*argv, "--html", str(html), "--pdf", str(pdf)]) == 0
    assert pdf.read_bytes().startswith(b"%PDF-")
    assert "POWER OFF FIRST" in html.read_text(encoding="utf-8")
    assert capsys.readouterr().out == ""
    assert cli.main([*argv, "--html", str(tmp_path / "new.html"), "--pdf", str(tmp_path)]) == 2
    assert "it is a folder; name a file to write." in capsys.readouterr().err
    assert not (tmp_path / "new.html").exists()


def test_the_history_of_a_unit_holds_its_items_as_data(tmp_path, capsys):
    seen = row("101", 9, found="yes", level="low", evidence="live", items=read_items("headboard: live, 2 ft"))
    folder = make_building(tmp_path / "maple-row", [])
    append_record(folder / "records.csv", seen, CODES)
    assert cli.main(["why", str(folder), "101", "--on", ON.isoformat(), "--json"]) == 0
    (record,) = json.loads(capsys.readouterr().out)["history"]
    assert record["items"][0]["item"] == "headboard"
    assert (record["items"][0]["evidence"], record["items"][0]["metres"]) == ("live", 0.61)

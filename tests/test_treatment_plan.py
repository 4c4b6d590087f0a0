"""A treatment visit planned from the findings: order, minutes, materials, cautions, and never a dose.

Minutes are judgement (60, 120 and 240 for light, moderate and heavy, facts page (i)); the cut at 12 bugs is
that of Singh et al. 2017, doi 10.3390/insects8030076; sizes of mattresses and supports of frames are common
practice, no source: 60 x 80 inches for a queen, 38 x 75 for a twin. An inch is 2.54 cm by definition.
"""

import re

import pytest
from buildings import ON, clear, find, report, row, treatment
from hypothesis import given, settings
from hypothesis import strategies as st

from spread.decisions.case.materials import Home, read_beds
from spread.decisions.case.treatment import RINGS_AT, known_findings, plan_of, treatment_plan
from spread.errors import SettingsError, SpreadError
from spread.records.kinds import LEVELS, Finding
from spread.report.document import texts_of
from spread.report.treat_text import treat_data, treat_document, treat_text
from spread.trade import treating
from spread.trade.room import load_room
from spread.words import ENGLISH, Voice, say
from spread.words.treatment import material_name, plan_data, product_words, size_words

SHEET = load_room()
ITEMS = (
    Finding("headboard", frozenset({"live"}), "nymphs", 12, 0.4, place="bed 1"),
    Finding("sofa", frozenset({"stains"}), metres=3.0),
    Finding("nightstand"),
)
DOSE = re.compile(
    r"\d\s*(?:ml|millilit\w*|lit(?:er|re)s?|gal|gallons?|oz|ounces?|g|kg|grams?|lbs?|pounds?|ppm|teaspoons?"
    r"|tablespoons?|cups?)\b|\d\s*%\s*(?:solution|dilution|mix|active)|per (?:litre|liter|gallon|square)",
    re.IGNORECASE,
)


def planned(level="low", items=ITEMS, **more):
    return treatment_plan("101", ON, level, items, SHEET, Home(**more))


def planned_from(rows, **more):
    return plan_of(rows, "101", ON, SHEET, Home(), **more)


def counts(plan):
    return {material_name(one, ENGLISH): one.count for one in plan.materials}


def why(plan, item):
    return say(at(plan, item).why, ENGLISH)


def at(plan, item):
    return next(step for step in plan.steps if step.item == item)


def test_what_was_seen_is_treated_and_so_are_the_usual_places():
    plan = planned()
    assert why(plan, "headboard") == "Seen: live, 12 counted, nymphs, 0.4 m from the bed."
    assert at(plan, "headboard").place == "bed 1"
    assert why(plan, "sofa") == "Seen: stains, 3 m from the bed."
    assert why(plan, "mattress") == "It is where bugs are first."
    assert why(plan, "nightstand").startswith("Nothing seen there;")
    assert "dresser" not in {step.item for step in plan.steps}, "two rings out and no sign of its own"
    assert "dresser" in {step.item for step in planned("moderate").steps}


def test_work_goes_from_the_cloth_to_the_bed_outwards_and_ends_with_covers_and_traps():
    steps = planned("heavy").steps
    names = [step.item for step in steps]
    assert names[0] in ("bedding", "bed-skirt")
    assert set(names[-2:]) == {"interceptors", "encasement"}
    middle = [step for step in steps if step.item not in ("bedding", "bed-skirt", *names[-2:])]
    assert [step.ring for step in middle] == sorted(step.ring for step in middle)
    first = [step.item for step in middle if step.ring == 1]
    assert first[0] == "headboard", "live bugs before items of the same ring without"


def test_headboards_get_steam_and_outlets_have_their_power_off_first():
    """Rules of the trade that the issue names; common practice, no source."""
    plan = planned("heavy")
    assert "steam only" in at(plan, "headboard").row.treat
    assert at(plan, "headboard").row.product.startswith("None")
    assert "POWER OFF FIRST" in at(plan, "outlets").row.caution
    assert at(plan, "pictures").row.product.startswith("Dust only")


def test_where_people_sleep_on_a_sofa_the_sofa_comes_first():
    steps = planned(items=(), sleeping="sofa").steps
    assert next(step for step in steps if step.ring == 0 and step.item != "interceptors").item == "sofa"
    assert at(planned(items=(), sleeping="sofa"), "sofa").ring == 0
    assert "box-spring" not in {step.item for step in steps}


@pytest.mark.parametrize(
    ("level", "minutes"), [("trace", 60), ("low", 60), ("moderate", 120), ("heavy", 240)]
)
def test_minutes_go_by_the_level_and_say_that_they_are_judged(level, minutes):
    plan = planned(level)
    assert plan.minutes.central == minutes
    assert "judgement" in treat_text("Maple Row", plan)


def test_a_product_is_spoken_of_above_12_bugs_only():
    assert "not needed to begin with" in product_words(planned("low"), ENGLISH)
    assert "added a labelled product" in product_words(planned("moderate"), ENGLISH)
    assert all("10.3390/insects8030076" in planned(level).product_source for level in LEVELS)


def test_encasements_fit_the_beds_and_interceptors_their_supports():
    plan = planned(beds=read_beds("Queen, twin"), sofas=1)
    assert counts(plan)["Interceptors"] == 6 + 4 + 4
    assert counts(plan)["Encasement, mattress"] == counts(plan)["Encasement, box spring"] == 2
    words = next(say(one, ENGLISH) for one in plan.materials if one.kind == "mattress")
    assert "1 queen 60 x 80 in (1.52 x 2.03 m)" in words
    assert re.search(r"1 twin 38 x 75 in \(0\.97 x 1\.9[01] m\)", words), "1.905 m"
    counted = planned(beds=read_beds("queen"), supports=9)
    assert counts(counted)["Interceptors"] == 9
    assert say(counted.materials[0], ENGLISH) == "one under every support, counted"
    assert "count them there" in say(plan.materials[0], ENGLISH)


@pytest.mark.parametrize("size", treating.SIZES.values(), ids=lambda size: size.code)
def test_sizes_in_metres_are_those_in_inches(size):
    for metres, inches in zip(size.metres, size.inches, strict=True):
        assert metres == pytest.approx(inches * 0.0254, abs=0.0051)
    assert size_words(size, ENGLISH) in say(planned(beds=(size,)).materials[1], ENGLISH)
    assert say(planned(beds=(size,)).materials[1], ENGLISH).endswith(", depth as measured")


def test_unknown_sizes_are_said_to_be_measured_first():
    plan = planned(places=2)
    assert any("measure first" in say(one, ENGLISH) for one in plan.materials)
    assert any("not known" in say(note, ENGLISH) for note in plan.notes)


@pytest.mark.parametrize("text", ["quen", "", "queen," * 13, "queen, doublebed"])
def test_a_size_that_is_none_is_refused_in_a_sentence(text):
    with pytest.raises(SettingsError, match=r"--beds: .*\.$"):
        read_beds(text)


def test_the_resident_moves_nothing_and_uses_no_fogger():
    """Foggers: Jones and Bryant 2012, doi 10.1603/EC12037; own sprays: CDC 2011, MMWR 60(37):1269."""
    told = " ".join(line.text for line in planned().must_not).lower()
    for word in ("other rooms", "foggers", "sprays", "alcohol", "heaters", "throw"):
        assert word in told


def test_every_method_has_its_caution_and_every_line_its_source():
    plan = planned("heavy")
    topics = {line.topic for line in plan.cautions}
    assert {"Steam", "Electricity", "Dust", "Heat", "Products", "Entering", "Lifting", "Disposal"} <= topics
    lines = (*plan.cautions, *plan.prepare, *plan.must_not, treating.LABEL)
    assert all(line.source for line in lines)
    assert plan.product_source
    assert all(step.row.source for step in plan.steps)
    assert "label is the law" in treating.LABEL.text
    text = re.sub(r"\s+", " ", treat_text("Maple Row", plan))
    for line in lines:
        assert line.source in text
        assert line.text in text, "no line of the plan is left unsaid"
    assert plan.product_source in text


ITEM = st.builds(
    Finding,
    st.sampled_from([item.code for item in SHEET.items] + ["no-such-item"]),
    st.frozensets(st.sampled_from(["live", "eggs", "stains", "dead"])),
)


@settings(max_examples=40, deadline=None)
@given(st.sampled_from(LEVELS), st.lists(ITEM, max_size=8), st.sampled_from(["bed", "sofa"]))
def test_no_plan_ever_states_a_dose_and_every_sign_has_its_step(level, items, sleeping):
    plan = treatment_plan("101", ON, level, items, SHEET, Home(sleeping=sleeping))
    page = treat_document("Maple Row", plan)
    for text in (treat_text("Maple Row", plan), *texts_of(page)):
        assert not DOSE.search(text), DOSE.search(text)
    steps = {step.item for step in plan.steps}
    assert {one.item for one in items if one.evidence and one.item != "no-such-item"} <= steps
    assert any("no-such-item" in note.items for note in plan.notes) == any(
        i.item == "no-such-item" for i in items
    )
    rings = RINGS_AT[level]
    here = [i for i in SHEET.items if not i.furniture and i.ours]
    assert {i.code for i in here if SHEET.ring(i, sleeping) <= rings} <= steps


@pytest.mark.parametrize("dose", ["add 5 ml to it", "10 grams each", "2 oz per gallon", "a 3 % solution"])
def test_the_check_for_doses_finds_doses(dose):
    assert DOSE.search(dose)


# -- from the log


def test_the_plan_takes_level_and_items_from_the_last_find():
    rows = [
        find("101", 60, "heavy", items=(Finding("sofa", frozenset({"live"})),)),
        find("101", 20, "moderate", items=(ITEMS[0], Finding("outlets", frozenset({"live"})))),
        clear("101", 10, items=(Finding("outlets"),)),
    ]
    plan = planned_from(rows)
    assert (plan.level, say(plan.basis, ENGLISH)) == ("moderate", "the find of Thu 25 Apr 2024")
    assert why(plan, "headboard").startswith("Seen: live")
    assert why(plan, "outlets").startswith("Nothing seen there"), "the latest word on it"
    assert "sofa" not in {step.item for step in plan.steps}, "the older find is of another visit"
    assert known_findings(rows, rows[1].when)[0] == ITEMS[0]


def test_a_count_gives_the_level_and_without_either_low_is_taken_and_said():
    counted = row("101", 5, method="brief-visual", found="yes", count=30)
    plan = planned_from([counted])
    assert plan.level == "moderate"
    assert say(plan.basis, ENGLISH) == "30 bugs counted on Fri 10 May 2024"
    bare = row("101", 5, method="brief-visual", found="yes")
    plan = planned_from([bare])
    assert (plan.level, say(plan.basis, ENGLISH)) == ("low", "the find has no level, so low is taken")


@pytest.mark.parametrize(
    "rows",
    [[], [report("101", 3)], [row("101", 3, method="dog", found="yes", evidence="alert")], [find("101", -3)]],
)
def test_nothing_is_planned_on_an_alert_or_a_report_alone(rows):
    with pytest.raises(SpreadError, match="no find is on record; look first"):
        planned_from(rows)
    assert say(planned_from(rows, level="trace").basis, ENGLISH) == "the level was given by hand"


def test_an_unknown_level_is_refused():
    with pytest.raises(SettingsError, match="'hevy' is not known; write 'heavy'"):
        planned("hevy")


def test_the_visit_again_goes_by_the_warmth_of_the_rooms():
    assert planned().visit.target == 14
    assert planned(room_celsius=18.0).visit.target == 21
    assert "best on day 21" in treat_text("Maple Row", planned(room_celsius=18.0))


def test_data_of_a_plan_is_plain_and_says_what_counts_as_done():
    import json

    data = treat_data("Maple Row", planned_from([find("101", 9), treatment("101", 40)]))
    assert json.loads(json.dumps(data))["unit"] == "101"
    assert {row["name"] for row in data["credit"] if not row["credited"]} >= {"45 C (113 F) for 7 hours"}


def test_data_of_a_plan_keeps_its_facts_beside_their_words():
    data = treat_data("Maple Row", planned(beds=read_beds("queen, queen, twin")))
    facts = data["facts"]
    assert data["materials"][0]["words"].startswith("one under every support")
    assert facts["materials"][0] == {
        "fact": "material", "kind": "interceptors", "count": 16, "counted": False, "beds": [],
    }  # fmt: skip
    assert [(size["code"], count) for size, count in facts["materials"][1]["beds"]] == [
        ("queen", 2),
        ("twin", 1),
    ]
    by_item = {step["row"]["code"]: step["why"] for step in facts["steps"]}
    assert by_item["headboard"]["seen"]["metres"] == 0.4
    assert by_item["nightstand"] == {"fact": "usual-place", "group": "near", "level": "low", "looked": True}


@pytest.mark.parametrize(
    ("worn", "words"),
    [
        ((), "Goes on at the end."),
        ((("torn", "bed 1"),), "Was torn at bed 1: replace or put right."),
        ((("torn", "bed 1"), ("missing", "")), "Was torn at bed 1 and missing: replace or put right."),
        ((("intact", "bed 1"),), "Goes on at the end."),
    ],
)
def test_a_cover_that_was_found_worn_is_replaced(worn, words):
    items = tuple(Finding("encasement", state=state, place=place) for state, place in worn)
    assert why(planned(items=items), "encasement") == words


def test_a_plan_is_said_in_feet_and_no_more_is_changed_by_it():
    feet = treat_text("Maple Row", planned(), Voice("en", "feet"))
    assert "10 ft from the bed" in feet, "3 m, where the sofa stands"
    metres = treat_text("Maple Row", planned())
    hide = re.compile(r"[\d.]+ (?:m|ft) from the bed")
    assert hide.sub("", re.sub(r"\s+", " ", feet)) == hide.sub("", re.sub(r"\s+", " ", metres))


@pytest.mark.parametrize("level", LEVELS)
def test_a_plan_in_spanish_keeps_every_step_caution_and_number(level):
    english, spanish = plan_data(planned(level)), plan_data(planned(level), Voice("es"))
    assert english["facts"] == spanish["facts"]
    for part in ("steps", "materials", "prepare", "must_not", "cautions", "notes", "credit", "tools"):
        assert len(english[part]) == len(spanish[part])
        assert all(spanish[part]), part
    assert not DOSE.search(treat_text("Maple Row", planned(level), Voice("es")))
    assert spanish["label"]["text"]
    assert all(line["text"] for line in spanish["cautions"])


@pytest.mark.parametrize("level", LEVELS)
def test_a_medical_device_is_a_step_only_where_it_is_slept_in_or_had_signs_and_says_that_it_is_not_ours(
    level,
):
    plain = treatment_plan("101", ON, level, (), SHEET, Home())
    others = {"hospital-bed", "wheelchair", "medical-device", "cot", "bunk-bed", "floor-bed"}
    assert not {step.item for step in plain.steps} & others, "nobody has one, as far as is known"
    home = Home(kinds=("hospital-bed", "floor-bed"))
    steps = {step.item: step for step in treatment_plan("101", ON, level, (), SHEET, home).steps}
    assert {"hospital-bed", "floor-bed"} <= set(steps)
    assert not {"mattress", "box-spring", "bed-frame"} & set(steps), "no plain bed is there"
    assert steps["hospital-bed"].row.treat.startswith("None by us: ask")
    signs = (Finding("medical-device", frozenset({"live"})),)
    assert "medical-device" in {
        step.item for step in treatment_plan("101", ON, level, signs, SHEET, Home()).steps
    }
    covers = {it.kind: it.count for it in treatment_plan("101", ON, level, (), SHEET, home).materials}
    assert covers["mattress"] == 1, "a hospital bed's mattress is not ours to encase"
    assert covers["box-spring"] == 0, "and what lies on the floor has no box spring"

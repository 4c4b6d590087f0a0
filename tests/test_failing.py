"""Failing treatment is named, working treatment is not, and what is said is checks and never a dose.

Counts in trials fell by 23 to 54 in 100 a fortnight (Singh et al. 2013, doi 10.3390/insects4040731; Wang
et al. 2014, doi 10.3390/insects5040849; Abbar et al. 2020, doi 10.3390/insects11070443; see the facts page).
"""

import json
import re

import pytest
from buildings import ON, clear, find, make_building, row, treatment
from hypothesis import given, settings
from hypothesis import strategies as st

from spread.cli import main
from spread.decisions.case.case import case_of
from spread.decisions.case.failing import failing_of
from spread.decisions.case.followup import followup_of
from spread.decisions.case.materials import Home
from spread.decisions.case.treatment import plan_of
from spread.records.kinds import Finding
from spread.trade.room import load_room
from spread.words import ENGLISH, Voice, say
from spread.words.followup import sentences
from spread.words.treatment import plan_data

DOSE = re.compile(r"\d+ ?(ml|l|oz|g|kg|%|percent|gallons?|teaspoons?|ppm)\b", re.IGNORECASE)


def caught(ago, count, days=14):
    found, live = ("yes", "live") if count else ("no", "")
    return row("101", ago, "monitor", "interceptors", found, count=count or None, days=days, evidence=live)


WORSE = [
    find("101", 115, "moderate"),
    treatment("101", 110, "whole-room-heat"),
    caught(95, 9),
    *(treatment("101", ago, "spray") for ago in (85, 65, 45)),
    caught(70, 25),
    caught(50, 60),
    caught(30, 140),
]


def test_heat_and_three_sprays_with_catches_9_25_60_140_is_called_failing():
    failing = failing_of(WORSE, ON)
    assert [one.count for one in failing.counts] == [9, 25, 60, 140]
    assert failing.last_methods == ("spray", "whole-room-heat")
    assert failing.expected == pytest.approx(9 * 0.77**3)
    said = say(failing, ENGLISH)
    assert "The treatment is failing: after 4 treatments the counts are 9, 25, 60, 140" in said
    assert "Do not do the same again." in said
    for cause in ("sofas and chairs", "luggage", "beside, above and below", "twice in a row", "resistance"):
        assert cause in said
    assert "another method than spray or whole-room heat" in said
    assert "for the licensed firm and the label to say" in said


def test_panel_why_plan_and_notice_all_say_so():
    one = followup_of(WORSE, "101", ON, 0.9)
    assert one.case.failing == failing_of(WORSE, ON)
    assert "The treatment is failing" in " ".join(sentences(one, ENGLISH))
    plan = plan_of(WORSE, "101", ON, load_room(), Home())
    assert plan.failing == one.case.failing
    assert plan_data(plan)["failing"].startswith("The treatment is failing")
    by_hand = plan_of(WORSE, "101", ON, load_room(), Home(), level="low")
    assert by_hand.failing is not None, "a level given by hand does not hide it"


def test_the_printed_plan_says_it_before_its_steps(tmp_path, capsys):
    folder = make_building(tmp_path / "maple", WORSE)
    assert main(["treat", str(folder), "101", "--on", ON.isoformat()]) == 0
    out = " ".join(capsys.readouterr().out.split())
    assert out.index("The treatment is failing") < out.index("Steps, in order")
    assert main(["treat", str(folder), "101", "--on", ON.isoformat(), "--json"]) == 0
    assert "failing" in json.loads(capsys.readouterr().out)["failing"]


@settings(max_examples=80, deadline=None)
@given(
    st.integers(20, 400),
    st.lists(st.floats(0.46, 0.76), min_size=2, max_size=6),
    st.sampled_from(["spray", "combined", "steam-dust-encase"]),
)
def test_counts_that_fall_as_in_trials_are_not_called_failing(first, left, method):
    rows, count, ago = [find("101", 300), caught(290, first)], first, 285
    for share in left:
        count = int(count * share)
        rows += [treatment("101", ago, method), caught(ago - 10, count)]
        ago -= 20
    assert failing_of(rows, ON) is None


@settings(max_examples=80, deadline=None)
@given(st.lists(st.integers(5, 300), min_size=3, max_size=7))
def test_counts_that_end_no_lower_than_they_began_are_named(counts):
    rows, ago = [find("101", 300)], 290
    for count in counts:
        rows += [caught(ago, count), treatment("101", ago - 5, "spray")]
        ago -= 20
    rows.append(caught(ago, max(counts)))
    assert failing_of(rows, ON) is not None


def test_one_treatment_is_waited_for_and_looks_and_traps_are_not_compared():
    assert failing_of([find("101", 60), treatment("101", 50), caught(30, 90)], ON) is None
    mixed = [row("101", 60, found="yes", count=3, evidence="live"), caught(10, 90)]
    mixed += [treatment("101", 55), treatment("101", 35)]
    assert failing_of(mixed, ON) is None, "a look and traps count in two ways"
    looks = [row("101", ago, found="yes", count=n, evidence="live") for ago, n in ((60, 20), (20, 30))]
    assert failing_of([*looks, treatment("101", 50), treatment("101", 35)], ON) is not None


def test_bugs_seen_alive_after_three_treatments_are_named_without_any_count():
    rows = [find("101", 90), *(treatment("101", ago, "spray") for ago in (80, 60, 40)),
            find("101", 20, level="", evidence="live")]  # fmt: skip
    assert "bugs are still seen alive" in say(failing_of(rows, ON), ENGLISH)
    soon = [*rows[:-1], find("101", 38, level="", evidence="live")]
    assert failing_of(soon, ON) is None, "what hatches within days of a treatment does not say that it failed"
    assert failing_of([*rows, clear("101", 5)], ON) is None
    part = clear("101", 5, items=(Finding("door-stop"),))
    assert failing_of([*rows, part], ON) is not None, "a look at a door stop does not end it"


def test_what_was_looked_at_is_not_named_as_missed():
    seen = clear("101", 60, items=(Finding("sofa"), Finding("luggage")))
    kinds = [cause.kind for cause in failing_of([*WORSE, seen], ON).causes]
    assert "seating" not in kinds
    assert "belongings" not in kinds
    late = [row for row in WORSE if row.method != "spray"] + [treatment("101", ago) for ago in (60, 40)]
    causes = {cause.kind: cause for cause in failing_of(late, ON).causes}
    assert causes["late"].days == 50


@pytest.mark.parametrize("voice", [ENGLISH, Voice("es")], ids=["en", "es"])
def test_it_names_no_dose_and_no_product(voice):
    said = say(failing_of(WORSE, ON), voice)
    assert not DOSE.search(said)
    assert voice.language == "en" or "tratamiento" in said


def test_a_closed_case_has_nothing_that_fails():
    assert case_of([clear("101", 5)], "101", ON).failing is None

"""The commands of the day's work: doors with their worth and duties, round, methods, duties."""

import csv
import io
import json
import re

import pytest
from buildings import CODES, ON, SHORT, TOML, clear, find, make_building, row, treatment

from spread import session
from spread.commands.common import caution
from spread.report.round_text import COLUMNS
from spread.report.text import DOOR_COLUMNS
from spread.trade.rule_set import ALWAYS_SAY

DAY = ON.isoformat()
ROWS = [
    clear("101", 60),
    find("103", 12, "heavy", evidence="live"),
    find("206", 40, evidence="live"),
    treatment("206", 38),
    row("204", 3, "no-access"),
]
"""103 has two neighbours beside and one above that nobody looked at since; 206 likewise 204 and 106."""
ASKED = {"101", "105", "203", "106", "204"}


@pytest.fixture(autouse=True)
def short_fits(monkeypatch):
    monkeypatch.setattr(session, "FitSettings", lambda: SHORT)


@pytest.fixture
def folder(tmp_path):
    return make_building(tmp_path / "maple-row", ROWS)


def good(run, *argv):
    code, out, err = run(*argv)
    assert (code, err) == (0, "")
    return out


# -- doors


def test_doors_say_worth_minutes_and_duty(run, folder):
    out = good(run, "doors", folder, "--on", DAY)
    assert "Next doors, ranked by finds a knock: the chance to be let in times that of a find\n" in out
    assert re.search(r"a find saves about \d+ unit-weeks; \d+ minutes at the door; \d+\.\d unit-weeks", out)
    flat = " ".join(out.split())
    assert "duty: look was due by Sun 7 Apr 2024, tried without access (good-practice; beside 206;" in flat
    assert ALWAYS_SAY[1:] in flat
    assert out.splitlines()[-1] == caution()


def test_doors_as_json_carry_what_the_text_says(run, folder):
    rows = json.loads(good(run, "doors", folder, "--on", DAY, "--json"))
    for one in rows:
        assert one["per_hour"] == pytest.approx(60 * one["worth"] / one["minutes"])
        assert one["worth"] == pytest.approx(one["finds"] * one["worth_of_find"])
        assert one["finds"] == pytest.approx(0.9 * one["opens"] * one["chance_of_find"]), (
            "one in ten ends unsure"
        )
        assert 3 < one["minutes"] <= 13, "a knock of 3 minutes and a brief look of 10, defaults"
        assert 1 <= len(one["reasons"]) <= 3
        assert one["mandatory"] == bool(one["rule"] or one["duty"])
    (duty,) = [one["duty"] for one in rows if one["unit"] == "204"]
    assert (duty["rule"], duty["due"], duty["status"]) == ("good-practice", "2024-04-07", "cannot")


def test_doors_as_csv_have_a_heading_and_the_same_doors_as_json(run, folder):
    told = list(csv.DictReader(io.StringIO(good(run, "doors", folder, "--on", DAY, "--csv", "--top", 3))))
    rows = json.loads(good(run, "doors", folder, "--on", DAY, "--json", "--top", 3))
    assert tuple(told[0]) == DOOR_COLUMNS
    assert [one["unit"] for one in told] == [one["unit"] for one in rows]
    for one, same in zip(told, rows, strict=True):
        assert float(one["chance"]) == pytest.approx(same["chance"], abs=1e-4)
        assert float(one["worth_of_find_weeks"]) == pytest.approx(same["worth_of_find"], abs=1e-4)
        assert one["duty_due"] == (same["duty"] or {"due": ""})["due"]
        assert one["reason_1"] == same["reasons"][0]


def test_what_a_rule_asks_for_is_on_the_list_whatever_its_rank(run, folder):
    rows = json.loads(good(run, "doors", folder, "--on", DAY, "--json", "--top", 0))
    assert {one["unit"] for one in rows if one["status"] == "look"} == ASKED
    out = good(run, "doors", folder, "--on", DAY, "--top", 0)
    assert "Also asked for by the ring rule or a duty, whatever their rank" in out
    assert {unit for unit in CODES if f"  - {unit}  rank " in out} == ASKED


def test_the_order_is_chosen_by_option_or_by_the_building(run, folder, tmp_path):
    out = good(run, "doors", folder, "--on", DAY, "--order", "benefit")
    assert "Next doors, ranked by unit-weeks averted per minute at the door" in out
    rows = json.loads(good(run, "doors", folder, "--on", DAY, "--json", "--order", "benefit"))
    hours = [one["per_hour"] for one in rows if one["status"] == "look"]
    assert hours == sorted(hours, reverse=True)
    own = make_building(tmp_path / "own", ROWS, toml=TOML + '[doors]\norder = "benefit"\n')
    assert json.loads(good(run, "doors", own, "--on", DAY, "--json")) == rows


# -- round


def test_a_round_is_told_by_technician_with_what_is_asked_for_first(run, folder):
    out = good(run, "round", folder, "--on", DAY, "--minutes", 60, "--technicians", 2, "--begins", "10:00")
    assert out.startswith("Maple Row, Wed 15 May 2024: a round of 60 minutes, by brief look\n")
    assert out.count("Technician ") == 2
    assert " at 10:00: " in out
    assert out.splitlines()[-1] == caution()
    assert "[must: duty: look " in out


def test_a_round_as_json_and_as_csv_hold_the_same_stops(run, folder):
    command = ("round", folder, "--on", DAY, "--minutes", 90)
    data = json.loads(good(run, *command, "--json"))
    told = list(csv.DictReader(io.StringIO(good(run, *command, "--csv"))))
    assert tuple(told[0]) == COLUMNS
    assert [one["unit"] for one in told] == [stop["unit"] for stop in data["paths"][0]["stops"]]
    assert data["minutes"] == 90
    assert data["paths"][0]["finish"] <= 90


def test_duties_and_the_ring_go_in_first_unless_told_otherwise(run, folder):
    command = ("round", folder, "--on", DAY, "--minutes", 200, "--json")
    stops = {s["unit"]: s for s in json.loads(good(run, *command))["paths"][0]["stops"]}
    assert {unit for unit in stops if stops[unit]["must"]} == ASKED | {"206"}, "206 is a late revisit"
    free = json.loads(good(run, *command, "--no-duties"))["paths"][0]["stops"]
    assert not any(stop["must"] for stop in free)
    one = json.loads(good(run, *command, "--no-duties", "--must", "201"))["paths"][0]["stops"]
    assert [stop["unit"] for stop in one if stop["must"]] == ["201"]


def test_what_is_asked_for_and_does_not_fit_is_named(run, folder):
    out = good(run, "round", folder, "--on", DAY, "--minutes", 30)
    visited = set(re.findall(r"^ +\d+\. \d\d:\d\d  (\d{3})", out, re.MULTILINE))
    left = set(re.findall(r"^  (\d{3}): ", out.split("Left out")[1], re.MULTILINE))
    assert visited
    asked = ASKED | {"206"}
    assert visited <= asked
    assert left == asked - visited


@pytest.mark.parametrize(
    ("options", "sentence"),
    [
        (
            ("--minutes", "-5"),
            "round, minutes: it is -5, expected more than 0 and at most 1440 minutes; "
            "give the time that each technician has, such as 240.",
        ),
        (("--technicians", "0"), "round, technicians: it is 0, expected 1 to 50; say how many go."),
        (("--must", "107"), "round, units: there is no unit '107'; "),
        (("--start", "roof garden"), "'roof garden'"),
        (("--minutes", "nan"), "round, minutes: it is nan, expected more than 0"),
    ],
)
def test_a_round_that_cannot_be_asked_for_is_one_sentence(run, folder, options, sentence):
    code, out, err = run("round", folder, "--on", DAY, *options)
    assert (code, out) == (2, "")
    (line,) = err.strip().splitlines()
    assert sentence in line


@pytest.mark.parametrize(
    "options", [("--begins", "25:00"), ("--minutes", "many"), ("--method", "luck"), ("--technicians", "-1")]
)
def test_an_option_that_cannot_be_read_ends_with_2(run, folder, options):
    code, out, err = run("round", folder, *options)
    assert (code, out) == (2, "")
    assert options[1] in err
    assert "Traceback" not in err


# -- methods


def test_methods_are_ranked_for_a_unit_and_for_a_set(run, folder):
    out = good(run, "methods", folder, "204", "--on", DAY)
    assert out.startswith(
        "204 in Maple Row, Wed 15 May 2024: which method next, by weeks averted per minute\n"
    )
    assert "What settles most: " in out
    assert out.splitlines()[-1] == caution()
    data = json.loads(good(run, "methods", folder, "204", "105", "--on", DAY, "--json"))
    assert data["units"] == ["204", "105"]
    assert {"brief-visual", "thorough-visual", "dog", "interceptors"} <= {
        m["method"] for m in data["methods"]
    }


def test_methods_of_an_unknown_unit_are_one_sentence(run, folder):
    code, out, err = run("methods", folder, "999", "--on", DAY)
    assert (code, out) == (2, "")
    assert "there is no unit '999'" in err
    assert len(err.strip().splitlines()) == 1


# -- duties


def test_duties_are_listed_with_proof_and_as_json(run, folder):
    out = good(run, "duties", folder, "--on", DAY)
    flat = " ".join(out.split())
    assert out.startswith("Maple Row, Wed 15 May 2024\n")
    assert "Overdue: no row proves it" in out
    assert ALWAYS_SAY in flat
    data = json.loads(good(run, "duties", folder, "--on", DAY, "--json"))
    owed = {d["unit"] for d in data["duties"] if d["step"] == "inspect" and d["status"] != "done"}
    rows = json.loads(good(run, "doors", folder, "--on", DAY, "--json"))
    assert owed == {one["unit"] for one in rows if one["duty"]}, "doors and duties agree"
    assert data["rules"]["id"] == "good-practice"


def test_an_unknown_rule_set_is_one_sentence_by_option_and_by_file(run, folder, tmp_path):
    code, out, err = run("duties", folder, "--on", DAY, "--rules", "atlantis")
    assert (code, out) == (2, "")
    assert "there is no rule set 'atlantis'" in err
    assert len(err.strip().splitlines()) == 1
    wrong = make_building(tmp_path / "wrong", toml=TOML + '[rules]\nset = "atlantis"\n')
    for command in ("check", "doors", "duties"):
        code, out, err = run(command, wrong)
        assert (code, out) == (2, "")
        assert "building.toml, [rules], setting 'set': there is no rule set 'atlantis'" in err


# -- access


@pytest.mark.parametrize("command", ["check", "doors", "round", "fit", "duties"])
def test_access_of_an_unknown_unit_is_said_wherever_the_building_is_read(run, tmp_path, command):
    toml = TOML + '[[access]]\nunit = "107"\ndo_not_enter = true\n'
    code, out, err = run(command, make_building(tmp_path / "wrong", toml=toml))
    assert (code, out) == (2, "")
    assert err.strip().endswith(
        "building.toml, access 1, setting 'unit': unit '107' is not on the plan; "
        "correct the unit or remove the table."
    )


def test_access_of_a_unit_is_kept_by_the_round(run, tmp_path):
    toml = TOML + '[[access]]\nunit = "105"\ndo_not_enter = true\nwhy = "key lost"\n'
    folder = make_building(tmp_path / "shut", ROWS, toml=toml)
    out = good(run, "round", folder, "--on", DAY)
    assert "  105: do not enter: key lost" in out.split("Left out")[1]

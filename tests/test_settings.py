"""``building.toml``: defaults, values and every kind of slip, all at once."""

import datetime as dt

import pytest

from spread.contacts.links import Link
from spread.errors import SettingsError
from spread.plan.access import AccessRule
from spread.settings import BuildingSettings, parse_settings, read_settings
from spread.trade.pace import Pace

GOOD = {"name": "Elm Court", "floors": ["1", "2"]}


def write(tmp_path, text):
    path = tmp_path / "building.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_a_name_and_floors_are_enough():
    assert parse_settings(GOOD) == BuildingSettings(name="Elm Court", floors=("1", "2"))


def test_every_setting_is_read(tmp_path):
    path = write(
        tmp_path,
        """
        name = "Elm Court"
        floors = ["B", "1", 2]
        [plan]
        storey_height_m = 3
        layout = "walk-up-2"
        [model]
        prevalence = 0.1
        history_weeks = 78
        seed = 7
        [doors]
        method = "dog"
        ring = "lr"
        across = true
        top = 5
        order = "benefit"
        [[links]]
        a = "101"
        b = "202"
        why = "share a laundry day"
        [[links]]
        a = "101"
        b = "301"
        why = "a sofa was moved"
        strength = 2
        """,
    )
    assert read_settings(path) == BuildingSettings(
        name="Elm Court",
        floors=("B", "1", "2"),
        storey_height=3.0,
        layout="walk-up-2",
        prevalence=0.1,
        history_weeks=78,
        seed=7,
        method="dog",
        ring="LR",
        across=True,
        top=5,
        order="benefit",
        links=(
            Link("101", "202", "share a laundry day", 1.0),
            Link("101", "301", "a sofa was moved", 2.0),
        ),
    )


BAD = {
    "no name": ({"floors": ["1"]}, "setting 'name': it is missing", 'write name = "..."'),
    "name a number": (GOOD | {"name": 5}, "'name': it is a whole number, expected text", 'name = "5"'),
    "empty name": (GOOD | {"name": " "}, "setting 'name': it is empty", "write a text"),
    "no floors": ({"name": "E"}, "setting 'floors': it is missing", 'floors = ["1", "2", "3"]'),
    "floors a number": (
        GOOD | {"floors": 3},
        "'floors': it is a whole number, expected a list",
        "lowest first",
    ),
    "no floor in them": (GOOD | {"floors": []}, "setting 'floors': it is empty", "lowest first"),
    "floor no name": (GOOD | {"floors": ["1", 2.5]}, "'floors': one of them is not a name", "lowest first"),
    "floor twice": (
        GOOD | {"floors": ["1", "2", "1"]},
        "setting 'floors': floor '1' is there twice",
        "give each floor its own name",
    ),
    "unknown key": (GOOD | {"flors": 1}, "setting 'flors': it is not known", "did you mean 'floors'"),
    "unknown table": (GOOD | {"colours": {}}, "setting 'colours': it is not known", "settings here are name"),
    "unknown key in a table": (
        GOOD | {"model": {"prevalance": 0.1}},
        "[model], setting 'prevalance': it is not known",
        "did you mean 'prevalence'",
    ),
    "table a number": (
        GOOD | {"doors": 3},
        "'doors': it is a whole number, expected a table",
        "a line [doors]",
    ),
    "text for a number": (
        GOOD | {"model": {"prevalence": "5%"}},
        "[model], setting 'prevalence': it is text, expected a number",
        "prevalence = 0.05",
    ),
    "true for a number": (
        GOOD | {"model": {"prevalence": True}},
        "'prevalence': it is true or false, expected a number",
        "prevalence = 0.05",
    ),
    "a setting that is gone": (
        GOOD | {"model": {"rate_scale": 0.25}},
        "[model], setting 'rate_scale': it is not used any more",
        "delete the line",
    ),
    "beyond its range": (
        GOOD | {"model": {"prevalence": 5}},
        "'prevalence': it is 5, expected 0.0001 to 0.9",
        "the default is 0.05",
    ),
    "not a number": (
        GOOD | {"plan": {"storey_height_m": float("nan")}},
        "[plan], setting 'storey_height_m': it is nan, expected 1.8 to 12",
        "the default is 2.8",
    ),
    "half a week": (
        GOOD | {"model": {"history_weeks": 10.5}},
        "'history_weeks': it is a number, expected a whole number",
        "history_weeks = 104",
    ),
    "too many weeks": (
        GOOD | {"model": {"history_weeks": 5000}},
        "'history_weeks': it is 5000, expected 4 to 520",
        "the default is 104",
    ),
    "unknown method": (
        GOOD | {"doors": {"method": "through-visual"}},
        "[doors], setting 'method': 'through-visual' is not known",
        "write 'thorough-visual'",
    ),
    "unknown layout": (
        GOOD | {"plan": {"layout": "castle"}},
        "[plan], setting 'layout': 'castle' is not known",
        "write one of double-loaded",
    ),
    "ring of other letters": (
        GOOD | {"doors": {"ring": "NESW"}},
        "[doors], setting 'ring': it is 'NESW', expected letters of LRUD",
        'ring = "LRUD"',
    ),
    "text for true": (
        GOOD | {"doors": {"across": "yes"}},
        "[doors], setting 'across': it is text, expected true or false",
        "across = false without quotes",
    ),
    "links no tables": (
        GOOD | {"links": ["101"]},
        "'links': it is a list, expected tables [[links]]",
        "[[links]]",
    ),
    "link without a reason": (
        GOOD | {"links": [{"a": "1", "b": "2"}]},
        "links 1, setting 'why': it is missing",
        'write why = "..."',
    ),
    "link to itself": (
        GOOD | {"links": [{"a": "1", "b": "1", "why": "x"}]},
        "links 1, setting 'b': it ties unit '1' to itself",
        "name two different units",
    ),
    "link without strength": (
        GOOD | {"links": [{"a": "1", "b": "2", "why": "x", "strength": 0}]},
        "links 1, setting 'strength': it is 0, expected 0.001 to 20",
        "the default is 1.0",
    ),
    "unknown order": (
        GOOD | {"doors": {"order": "luck"}},
        "[doors], setting 'order': 'luck' is not known",
        "write one of find, benefit",
    ),
    "negative minutes": (
        GOOD | {"minutes": {"brief-visual": -5}},
        "[minutes], setting 'brief-visual': it is -5, expected 0.5 to 480",
        "the default is 10.0",
    ),
    "no walking": (
        GOOD | {"minutes": {"metres_per_minute": 0}},
        "[minutes], setting 'metres_per_minute': it is 0, expected 5 to 200",
        "the default is 70.0",
    ),
    "a knock in words": (
        GOOD | {"minutes": {"knock": "three"}},
        "[minutes], setting 'knock': it is text, expected a number",
        "without quotes",
    ),
    "every door shut": (
        GOOD | {"minutes": {"no_access": 1.0}},
        "[minutes], setting 'no_access': it is 1, expected 0.001 to 0.99",
        "the default is 0.2",
    ),
    "minutes of nothing known": (
        GOOD | {"minutes": {"brief_visual": 8}},
        "[minutes], setting 'brief_visual': it is not known",
        "did you mean 'brief-visual'",
    ),
    "access of no unit": (
        GOOD | {"access": [{"do_not_enter": True}]},
        "access 1, setting 'unit': it is missing",
        'write unit = "..."',
    ),
    "access at every hour": (
        GOOD | {"access": [{"unit": "101"}]},
        "access 1, setting 'from': it allows every hour of every day",
        "do_not_enter = true",
    ),
    "access that ends before it begins": (
        GOOD | {"access": [{"unit": "101", "from": "12:00", "to": "09:00"}]},
        "access 1, setting 'to': it is '09:00', not after '12:00'",
        "write the later time here",
    ),
    "no time of day": (
        GOOD | {"access": [{"unit": "101", "from": "noon"}]},
        "access 1, setting 'from': 'noon' is no time of day",
        'from = "09:30"',
    ),
    "no day": (
        GOOD | {"access": [{"unit": "101", "days": ["mon", "someday"]}]},
        "access 1, setting 'days': 'someday' is no day",
        'days = ["mon", "thu"]',
    ),
    "do not enter at a time": (
        GOOD | {"access": [{"unit": "101", "do_not_enter": True, "from": "09:00"}]},
        "access 1, setting 'do_not_enter': it stands beside times",
        "a table of their own",
    ),
    "access no tables": (
        GOOD | {"access": "101"},
        "'access': it is text, expected tables [[access]]",
        "start each with a line [[access]]",
    ),
}


def test_minutes_are_read_and_a_monitor_keeps_the_share_of_its_first_visit():
    usual = Pace()
    pace = parse_settings(
        GOOD
        | {
            "minutes": {
                "knock": 4, "brief-visual": 8, "interceptors": 2 * usual.look["interceptors"],
                "metres_per_minute": 60, "no_access": 0.35, "no_access_visits": 10,
            }
        }
    ).pace  # fmt: skip
    assert (pace.knock, pace.metres_per_minute, pace.no_access, pace.no_access_visits) == (4, 60, 0.35, 10)
    assert pace.look["brief-visual"] == 8
    assert pace.look["dog"] == usual.look["dog"], "what is not named stays"
    assert pace.set_up["interceptors"] == pytest.approx(2 * usual.set_up["interceptors"])


def test_what_a_week_costs_at_each_level_is_read_and_the_rest_stays():
    usual = BuildingSettings(name="x", floors=("1",)).week_costs
    costs = parse_settings(GOOD | {"weeks": {"heavy": 7.5, "trace": 0}}).week_costs
    assert costs == (0.0, usual[1], usual[2], 7.5)
    with pytest.raises(SettingsError, match=r"weeks.*heavy"):
        parse_settings(GOOD | {"weeks": {"heavy": -1}})
    with pytest.raises(SettingsError, match="clear"):
        parse_settings(GOOD | {"weeks": {"clear": 1}})


def test_without_minutes_and_access_the_defaults_hold():
    assert parse_settings(GOOD).pace == Pace()
    assert parse_settings(GOOD).access == ()


def test_access_is_read_as_minutes_after_midnight_and_days_in_the_order_of_the_week():
    rules = parse_settings(
        GOOD
        | {
            "access": [
                {"unit": "101", "from": "09:30", "to": "12:00", "days": ["Thu", "monday"], "why": "key"},
                {"unit": "102", "do_not_enter": True},
                {"unit": "103", "to": "24:00", "from": "13:00"},
                {"unit": "104", "days": ["sat"]},
            ]
        }
    ).access
    assert rules == (
        AccessRule("101", 570, 720, ("mon", "thu"), False, "key"),
        AccessRule("102", 0, 1440, (), True, ""),
        AccessRule("103", 780, 1440, (), False, ""),
        AccessRule("104", 0, 1440, ("sat",), False, ""),
    )


@pytest.mark.parametrize("case", BAD)
def test_each_bad_setting_gives_one_sentence_that_names_file_setting_and_remedy(case):
    table, what, fix = BAD[case]
    with pytest.raises(SettingsError) as caught:
        parse_settings(table)
    (sentence,) = str(caught.value).splitlines()
    assert sentence.startswith("building.toml, ")
    assert what in sentence
    assert fix in sentence.split(what)[1]


def test_all_problems_come_at_once():
    with pytest.raises(SettingsError) as caught:
        parse_settings({"floors": 1, "model": {"seed": "x"}, "doors": {"top": 0}, "links": [{"a": 1}]})
    assert len(str(caught.value).splitlines()) == 7


@pytest.mark.parametrize(
    ("data", "what"),
    [
        (b"name = Elm Court", "building.toml: it is not TOML (Invalid value (at line 1, column 8))"),
        (b'name = "Caf\xe9"', "building.toml, byte 12: it is not UTF-8 text; save it as UTF-8."),
        (b"a = " + b"[" * 5000, "building.toml: it is not TOML"),
        (b"# " + b"x" * 1_000_001, "building.toml: it is larger than 1 MB"),
    ],
)
def test_a_file_that_is_not_toml_is_one_sentence(tmp_path, data, what):
    path = tmp_path / "building.toml"
    path.write_bytes(data)
    with pytest.raises(SettingsError) as caught:
        read_settings(path)
    (sentence,) = str(caught.value).splitlines()
    assert sentence.startswith(what)


def test_a_missing_file_says_what_to_write(tmp_path):
    with pytest.raises(
        SettingsError, match=r"^building\.toml: there is no such file; write one with at least name"
    ):
        read_settings(tmp_path / "building.toml")


def test_days_off_are_read_as_dates_or_texts_and_what_is_no_day_is_named():
    toml = {"rules": {"holidays": [dt.date(2026, 12, 25), "2026-01-01", "2026-12-25"]}}
    assert parse_settings({**GOOD, **toml}).holidays == (dt.date(2026, 1, 1), dt.date(2026, 12, 25))
    for odd in (["Christmas"], [3], [dt.datetime(2026, 12, 25, 9)], "2026-12-25"):
        with pytest.raises(SettingsError, match=r"\[rules\], setting 'holidays'"):
            parse_settings({**GOOD, "rules": {"holidays": odd}})

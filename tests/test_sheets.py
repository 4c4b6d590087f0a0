"""Door sheets: one page a door, why and how likely in words, and never a word that clears a unit."""

import io
import re
from xml.etree import ElementTree

import pytest
from buildings import CODES, clear, find, make_building, maple_row, open_building, report, row, treatment

from spread.cli import main
from spread.errors import SpreadError
from spread.plan.svg import plan_svg
from spread.records.kinds import LOOKS, MONITORS
from spread.report.chance_map import (
    STEPS,
    colour_of,
    floors_by_chance,
    sheet_of_floors,
    where_picture,
)
from spread.report.document import Facts, Numbered, PageBreak, Picture, plain, texts_of
from spread.report.pdf import write_pdf
from spread.report.sheets import bring_words, door_sheets, next_units
from spread.words import ENGLISH
from spread.words.doors import reason_words
from spread.words.paper import of_100

ROWS = (report("103", 20), find("103", 15), treatment("103", 10), clear("106", 5), row("204", 3, "no-access"))


@pytest.fixture(scope="module")
def session(tmp_path_factory):
    folder = make_building(tmp_path_factory.mktemp("sheets") / "maple", ROWS)
    with (folder / "building.toml").open("a", encoding="utf-8") as file:
        file.write(
            '\n[[access]]\nunit = "105"\nfrom = "09:00"\nto = "12:00"\ndays = ["mon"]\nwhy = "key at desk"\n'
        )
    return open_building(folder)


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_each_door_has_one_page(session, paper):
    pypdf = pytest.importorskip("pypdf")
    pages = pypdf.PdfReader(io.BytesIO(write_pdf(door_sheets(session, CODES), paper))).pages
    assert len(pages) == len(CODES)
    for code, page in zip(CODES, pages, strict=True):
        assert f"Unit {code}" in page.extract_text()


def test_a_door_sheet_says_where_why_how_likely_and_what_to_bring(session):
    row = next(row for row in session.doors() if row.unit == "105")
    sheet = door_sheets(session, ["105"])
    facts = dict(next(block for block in sheet.blocks if isinstance(block, Facts)).pairs)
    assert facts["Where"] == f"{session.plan.name}, unit 105, floor 1"
    assert of_100(row.chance, ENGLISH) in plain(facts["Chance"])
    assert facts["Bring"] == bring_words(session.method, ENGLISH)
    assert facts["Access"] == "09:00 to 12:00 on mon (key at desk)"
    assert facts["Asked for"].startswith("the ring: beside 103") or "beside 103" in facts["Asked for"]
    reasons = next(block for block in sheet.blocks if isinstance(block, Numbered)).items
    assert reasons == reason_words(row.reasons[:3], ENGLISH)
    assert 1 <= len(reasons) <= 3
    assert not [block for block in sheet.blocks if isinstance(block, PageBreak)]


def test_no_sheet_clears_a_unit(session):
    text = " ".join(texts_of(door_sheets(session, CODES))).lower()
    assert "a low chance clears no unit" in text
    assert "clear nothing" in text
    assert not re.search(r"\b(is clear|cleared|bed bug free|0%|100%)", text)


def test_doors_that_the_ring_asks_for_are_among_the_next_ones(session):
    asked = {row.unit for row in session.doors() if row.status == "look" and row.mandatory}
    assert {"101", "105", "203"} <= asked
    assert asked <= set(next_units(session, 0))
    assert len(next_units(session, 100)) == sum(row.status == "look" for row in session.doors())


def test_there_is_something_to_bring_for_every_way_of_looking():
    assert all(bring_words(method, ENGLISH) for method in (*LOOKS, *MONITORS))


def test_an_unknown_unit_is_one_sentence(session):
    with pytest.raises(SpreadError, match="no unit 'X9'"):
        door_sheets(session, ["X9"])


@pytest.mark.parametrize(
    ("chance", "words"),
    [
        (0.0, "fewer than 1 of 100"),
        (0.004, "fewer than 1 of 100"),
        (0.01, "about 1 of 100 such units has"),
        (0.337, "about 34 of 100 such units have"),
        (0.999, "more than 99 of 100"),
        (1.0, "more than 99 of 100"),
    ],
)
def test_a_chance_in_words_is_never_none_or_all(chance, words):
    assert of_100(chance, ENGLISH).startswith(words)


# The map.


def luminance(colour):
    """Relative luminance of WCAG 2.2, from its definition."""
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def test_letters_on_the_colours_of_the_map_can_be_read_and_steps_darken():
    """WCAG 2.2 success criterion 1.4.3: a contrast of 4.5 to 1; the ink is that of the plan."""
    lights = [luminance(colour) for _, colour, _ in STEPS]
    assert lights == sorted(lights, reverse=True)
    assert all((light + 0.05) / (luminance("#22313a") + 0.05) >= 4.5 for light in lights)


@pytest.mark.parametrize(
    ("chance", "step"), [(0.0, 0), (0.054, 0), (0.056, 1), (0.06, 1), (0.3, 3), (0.5, 4), (1.0, 4)]
)
def test_a_colour_is_that_of_its_step(chance, step):
    assert colour_of(chance) == STEPS[step][1]


def test_the_map_has_every_unit_with_its_figure_in_the_drawing():
    chances = {code: (k + 1) / 20 for k, code in enumerate(CODES)}
    tree = ElementTree.fromstring(sheet_of_floors(maple_row(), ["1"], chances, 1))
    said = [node.text for node in tree.iter("{http://www.w3.org/2000/svg}text")]
    for code in CODES[:6]:
        figure = f"{100 * chances[code]:.0f}%"
        assert {code, figure} <= set(said)
    assert not set(CODES[6:]) & set(said)
    assert [words for *_, words in STEPS] == said[-len(STEPS) :]
    assert list(floors_by_chance(maple_row(), chances)) == ["2", "1"]


def test_a_plain_plan_is_drawn_as_before_and_one_unit_can_be_marked():
    plain_plan = plan_svg(maple_row(), "1")
    assert "hallway</text>" in plain_plan
    picture = where_picture(maple_row(), "203")
    assert isinstance(picture, Picture)
    assert picture.svg.count("#9ec9d9") == 1
    assert "unit 203" in picture.alt


# The command.


def test_the_command_writes_the_week_and_the_doors_and_none_over_another(tmp_path, capsys):
    folder = str(make_building(tmp_path / "maple", ROWS))
    ask = ["sheets", folder, "--on", "2024-05-15", "-o", str(tmp_path / "out"), "--doors", "2"]
    assert main(ask) == 0
    assert sorted(path.name for path in (tmp_path / "out").iterdir()) == ["doors.html", "week.html"]
    assert "Unit 101" in (tmp_path / "out" / "doors.html").read_text(encoding="utf-8")
    capsys.readouterr()
    assert main(ask) == 2
    assert "already holds doors.html, week.html" in capsys.readouterr().err
    assert main([*ask, "--replace", "--unit", "204", "--json"]) == 0
    assert '"204"' in capsys.readouterr().out

"""The commands compare and optimise, from the outside."""

import json

import pytest
from buildings import find, make_building, report

from spread.cli import main


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    rows = [report("102", 30), find("102", 25), find("203", 10)]
    return str(make_building(tmp_path_factory.mktemp("programmes") / "maple", rows))


SHORT = ["--on", "2026-11-25", "--runs", "20", "--weeks", "8"]


def said(capsys, *arguments):
    code = main([*arguments])
    out = capsys.readouterr()
    return code, out.out, out.err


def test_compare_says_the_same_twice_and_holds_every_programme(folder, capsys):
    first = said(capsys, "compare", folder, *SHORT)
    assert first == said(capsys, "compare", folder, *SHORT)
    assert first[0] == 0
    for words in (
        "Complaints only",
        "Survey twice a year",
        "Against Complaints only",
        "Regret",
        "clears no unit",
    ):
        assert words in first[1]


def test_compare_as_json_and_csv(folder, capsys):
    code, out, _ = said(capsys, "compare", folder, *SHORT, "--programmes", "complaint,survey-dog", "--json")
    data = json.loads(out)
    assert code == 0
    assert [o["key"] for o in data["outcomes"]] == ["complaint", "survey-dog"]
    assert len(data["outcomes"][0]["infested"]["median"]) == 9
    code, out, _ = said(capsys, "compare", folder, *SHORT, "--programmes", "complaint", "--csv")
    assert out.startswith("programme,figure,mean,median")
    assert code == 0


def test_compare_tells_what_drives_the_answer(folder, capsys):
    _, out, _ = said(
        capsys, "compare", folder, *SHORT, "--programmes", "complaint,complaint-ranked", "--drivers"
    )
    assert "What drives complaint-ranked less complaint" in out


def test_optimise_the_survey(folder, capsys):
    code, out, _ = said(capsys, "optimise", folder, *SHORT, "--what", "survey", "--chance", "0.1")
    assert code == 0
    assert "Frontier" in out
    code, out, _ = said(capsys, "optimise", folder, *SHORT, "--what", "doors", "--json")
    assert {p["programme"]["key"] for p in json.loads(out)["points"]} >= {"doors-0", "doors-10"}


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["compare", "--programmes", "nothing"], "there is no programme 'nothing'"),
        (["compare", "--programmes", ""], "there is no programme ''"),
        (["compare", "--weeks", "0"], "expected 1 to 520"),
        (["compare", "--runs", "1"], "expected 20 to 100000"),
        (["compare", "--weeks", "9", "--by-week", "10"], "past the 9 weeks"),
        (["compare", "--prices", "none.toml"], "none.toml: there is no such file"),
        (["optimise", "--chance", "1.5"], "expected 0 to below 1"),
        (["optimise", "--base", "own.toml"], "own.toml: there is no such file"),
    ],
)
def test_a_slip_on_the_command_line_is_one_sentence(folder, capsys, arguments, words):
    code, out, err = said(capsys, arguments[0], folder, "--on", "2026-11-25", *arguments[1:])
    assert code == 2
    assert not out
    assert words in err
    assert "Traceback" not in err

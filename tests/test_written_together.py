"""Files that belong together appear together: all of them or none, and what stood there before stays."""

import itertools
import shutil
import sys
from pathlib import Path

import pytest
from small import BRIEF

from spread import cli
from spread.errors import SpreadError
from spread.files import write_together

DEMO = Path(__file__).parent.parent / "demo_buildings" / "tolliwick-gardens"
ON = ["--on", "2026-11-20"]
QUICK = ["--programmes", "complaint,complaint-ranked", "--weeks", "26", "--runs", "40"]
COMMANDS = {
    "proposal": [*ON, *QUICK, "-o", "out"],
    "sheets": [*ON, "--pdf", "-o", "out"],
    "notices": [*ON, "--unit", "A102", "--kind", "entry", "--when", "2026-11-27", "--pdf", "-o", "out"],
    "room": ["A102", *ON, "--html", "room.html", "--pdf", "room.pdf"],
    "treat": ["A102", *ON, "--level", "low", "--html", "treat.html", "--pdf", "treat.pdf"],
}


def standing(folder):
    """Everything under a folder, drafts included, with what is in it."""
    return {str(p.relative_to(folder)): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


@pytest.mark.parametrize("bad", range(3))
@pytest.mark.parametrize("there", list(itertools.product([True, False], repeat=3)))
def test_if_one_file_cannot_take_its_place_all_stay_as_they_were(tmp_path, bad, there):
    """Whichever of three is in the way, and whichever of them stood there before."""
    paths = [tmp_path / name for name in "abc"]
    for number, (path, old) in enumerate(zip(paths, there, strict=True)):
        if number == bad:
            path.mkdir()  # a folder is in its place
        elif old:
            path.write_text(f"old {path.name}")
    before = standing(tmp_path)
    with pytest.raises(SpreadError, match=f"^{paths[bad].name}: it cannot be written"):
        write_together(dict.fromkeys(paths, "new"))
    assert standing(tmp_path) == before
    assert len(list(tmp_path.iterdir())) == len(before) + 1, "no draft is left"


def test_all_are_written_when_all_can_be(tmp_path):
    (tmp_path / "a").write_text("old")
    write_together({tmp_path / "a": "new", tmp_path / "b": b"bytes"})
    assert standing(tmp_path) == {"a": b"new", "b": b"bytes"}


def test_a_missing_folder_is_one_sentence(tmp_path):
    with pytest.raises(SpreadError, match=r"a: it cannot be written .*make the folder"):
        write_together({tmp_path / "b": "x", tmp_path / "none" / "a": "x"})
    assert standing(tmp_path) == {}


@pytest.fixture
def work(tmp_path, monkeypatch):
    shutil.copytree(DEMO, tmp_path / "home")
    (tmp_path / "work").mkdir()
    monkeypatch.chdir(tmp_path / "work")
    monkeypatch.setattr("spread.session.FitSettings", lambda: BRIEF)  # whatever the pages say
    return tmp_path / "work"


@pytest.mark.parametrize("command", COMMANDS)
def test_without_typst_a_command_says_so_and_writes_nothing(work, monkeypatch, capsys, command):
    monkeypatch.setitem(sys.modules, "typst", None)
    assert cli.main([command, "../home", *COMMANDS[command]]) == 2
    said = capsys.readouterr()
    assert said.err.count("pip install 'spread[pdf]'") == 1
    assert len(said.err.strip().splitlines()) == 1
    assert "Traceback" not in said.err
    assert list(work.iterdir()) == []


def test_without_typst_the_proposal_says_so_before_the_simulation(work, monkeypatch, capsys):
    monkeypatch.setitem(sys.modules, "typst", None)
    monkeypatch.setattr("spread.programmes.run.simulate", lambda *_, **__: pytest.fail("it simulated"))
    assert cli.main(["proposal", "../home", *COMMANDS["proposal"]]) == 2
    assert "--no-pdf" in capsys.readouterr().err


@pytest.mark.parametrize("command", ["proposal", "room", "treat"])
def test_a_page_and_its_pdf_are_written_both_or_neither(work, monkeypatch, capsys, command):
    """The PDF cannot take its place: the page does not appear either, nor does a new folder."""
    pytest.importorskip("typst")
    replace = Path.replace

    def refuse(self, target):
        if Path(target).suffix == ".pdf":
            raise PermissionError(13, "Permission denied")
        return replace(self, target)

    with monkeypatch.context() as broken:
        broken.setattr(Path, "replace", refuse)
        assert cli.main([command, "../home", *COMMANDS[command]]) == 2
    assert "cannot be written (permission denied)" in capsys.readouterr().err
    assert list(work.iterdir()) == []
    assert cli.main([command, "../home", *COMMANDS[command]]) == 0
    written = sorted(path.suffix for path in work.rglob("*.*"))
    # The proposal comes with the sheet for residents.
    each = 2 if command == "proposal" else 1
    assert written == [".html"] * each + [".pdf"] * each


def test_one_file_named_for_both_formats_is_refused(work, capsys):
    assert cli.main(["room", "../home", "A102", *ON, "--html", "x", "--pdf", "x"]) == 2
    assert "x: it is named for two formats; name two files." in capsys.readouterr().err
    assert list(work.iterdir()) == []

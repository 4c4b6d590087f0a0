"""The command line: what it prints, what it writes, and how it ends."""

import contextlib
import json
import os
import re
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

import pytest
from buildings import CODES, ON, SHORT, clear, find, make_building, row, treatment

from spread import cli, session
from spread.building import load_building
from spread.commands.building import LAYOUT_WORDS
from spread.plan.spreadsheet import write_workbook
from spread.plan.unit_list import LAYOUTS
from spread.records import read_log
from spread.trade.biology import LEVEL_NAMES

pytestmark = pytest.mark.usefixtures("read_here")

DAY = ON.isoformat()
ROWS = [
    clear("101", 60),
    find("103", 12, "heavy", evidence="live"),
    find("206", 40),
    treatment("206", 38),
    row("204", 3, "no-access"),
]


@pytest.fixture(autouse=True)
def short_fits(monkeypatch):
    monkeypatch.setattr(session, "FitSettings", lambda: SHORT)


@pytest.fixture
def folder(tmp_path):
    return make_building(tmp_path / "maple-row", ROWS)


def doors(run, folder, *more):
    code, out, err = run("doors", folder, "--on", DAY, "--json", *more)
    assert (code, err) == (0, "")
    return json.loads(out)


# -- doors


def test_doors_are_listed_with_chances_reasons_and_the_caution(run, folder):
    code, out, err = run("doors", folder, "--on", DAY)
    assert (code, err) == (0, "")
    lines = out.splitlines()
    assert lines[0] == "Maple Row, Wed 15 May 2024"
    assert re.fullmatch(
        r"Infested now: about \d+ of 12 units \(90% sure: \d+ to \d+\)\. Looking by: brief look\.", lines[1]
    )
    assert re.search(r"^ +1\. \d{3}  chance \d+% \(.*\), find \d+%", out, re.MULTILINE)
    assert "Treat (known infested, not treated since)\n  - 103  chance" in out
    assert re.search(r"^Revisits: 1 (late|due)[^\n]*\n  - 206  chance", out, re.MULTILINE)
    assert "[ring: beside 103]" in out
    assert lines[-1] == cli.caution()
    assert max(map(len, lines[:-2])) <= 100


def test_doors_as_json_are_objects_with_the_promised_fields(run, folder):
    rows = doors(run, folder)
    for one in rows:
        assert {"unit", "rank", "chance", "chance_of_find", "reason", "rule", "status"} <= one.keys()
        assert type(one["unit"]) is str
        assert type(one["rank"]) is int
        assert type(one["chance"]) is float
        assert type(one["chance_of_find"]) is float
        assert one["reason"].endswith(".")
        assert one["status"] in ("look", "treat", "revisit")
    assert sorted(one["unit"] for one in rows) == sorted(CODES)
    assert [one["unit"] for one in rows if one["status"] == "treat"] == ["103"]
    assert [one["unit"] for one in rows if one["status"] == "revisit"] == ["206"]


def test_top_shortens_the_list_but_never_drops_what_the_ring_rule_asks_for(run, folder):
    rows = [one for one in doors(run, folder, "--top", 2) if one["status"] == "look"]
    assert [one["rank"] for one in rows][:2] == [1, 2]
    assert all(one["rank"] <= 2 or one["rule"] for one in rows)
    everything = doors(run, folder, "--top", 99)
    assert [one["unit"] for one in rows] == [
        one["unit"] for one in everything if one["status"] == "look" and (one["rank"] <= 2 or one["rule"])
    ]
    assert {"101", "105", "203"} <= {one["unit"] for one in rows}


def test_top_0_lists_the_ring_and_the_known_units_only(run, folder):
    rows = doors(run, folder, "--top", 0)
    assert all(one["rule"] or one["status"] != "look" for one in rows)
    code, out, _ = run("doors", folder, "--on", DAY, "--top", 0)
    assert code == 0
    assert "None asked for." in out
    assert "every unit is known infested" not in out
    assert "Also asked for by the ring rule" in out


def test_another_method_changes_the_chance_of_a_find_alone(run, folder):
    eye = {one["unit"]: one for one in doors(run, folder)}
    trap = {one["unit"]: one for one in doors(run, folder, "--method", "interceptors")}
    assert {u: one["chance"] for u, one in eye.items()} == {u: one["chance"] for u, one in trap.items()}
    assert all(trap[u]["chance_of_find"] > eye[u]["chance_of_find"] for u in eye)


def test_the_same_seed_prints_the_same_json(run, folder):
    assert doors(run, folder, "--seed", 5) == doors(run, folder, "--seed", 5)
    assert doors(run, folder, "--seed", 5) != doors(run, folder, "--seed", 6)


def test_a_day_before_the_first_record_starts_from_the_prior(run, folder):
    rows = doors(run, folder, "--on", "2020-01-01")
    assert {one["status"] for one in rows} == {"look"}
    assert all(0.0 < one["chance"] < 0.3 for one in rows)
    assert all(one["reason"].endswith("No look at it is on record.") for one in rows)


@pytest.mark.parametrize("log", [None, "", "header"])
def test_a_building_without_a_record_is_answered_too(run, tmp_path, log):
    folder = make_building(tmp_path / "new")
    if log is not None:
        header = "id,when,unit,kind,method,found,level,count,evidence,days,by,note,supersedes\n"
        (folder / "records.csv").write_text(header if log else "")
    assert len(doors(run, folder)) == 12
    code, out, _ = run("check", folder)
    assert code == 0
    assert "Log: 0 rows; the log is empty, so every unit starts from the building's prior." in out


def test_a_building_with_every_unit_known_says_that_no_door_is_left(run, tmp_path):
    folder = make_building(tmp_path / "full", [find(code, 3) for code in CODES])
    code, out, _ = run("doors", folder, "--on", DAY)
    assert code == 0
    assert "No door to look at: every unit is known infested." in out


# -- why, fit, check


def test_why_explains_one_unit(run, folder):
    code, out, err = run("why", folder, "101", "--on", DAY)
    assert (code, err) == (0, "")
    for part in ("101 in Maple Row, Wed 15 May 2024", "Asked for by the ring rule: beside 103.", "\nWhy\n",
                 "103: through 7.5 m of shared wall", "Sat 16 Mar 2024: Brief look: nothing found",
                 "Next: Look at it"):  # fmt: skip
        assert part in out, part


def test_why_as_json_holds_sources_history_and_trail(run, folder):
    code, out, _ = run("why", folder, "103", "--on", DAY, "--json")
    told = json.loads(out)
    assert code == 0
    assert told["status"] == "treat"
    assert set(told["levels"]) == set(LEVEL_NAMES)
    assert told["history"][0]["when"] == "2024-05-03"
    assert told["history"][0]["evidence"] == "live"
    assert {"unit", "route", "share", "words", "by_route"} == set(told["sources"][0])
    assert told["sources_kind"] == "came-from"
    assert sum(source["share"] for source in told["sources"]) <= 1.0 + 1e-9
    assert {"low", "median", "high", "window", "before", "words"} == set(told["began"])
    assert told["doubts"] == []
    assert len(told["trail"]) == 26


def test_fit_as_json_has_units_diagnostics_seed_and_settings(run, folder):
    code, out, err = run("fit", folder, "--on", DAY, "--seed", 7, "--json")
    told = json.loads(out)
    assert (code, err) == (0, "")
    assert [one["unit"] for one in told["units"]] == [*CODES]
    for one in told["units"]:
        assert set(one["levels"]) == set(LEVEL_NAMES)
        assert sum(one["levels"].values()) == pytest.approx(1.0)
        assert one["chance"] == pytest.approx(1.0 - one["levels"]["clear"])
    assert told["seed"] == 7
    assert told["on"] == DAY
    assert told["settings"] == {"prevalence": 0.05, "rate_scale": 1.0, "history_weeks": 26}
    assert {"rhat_count", "rhat_worst_unit", "ess_count", "ess_worst_unit", "good"} <= set(
        told["diagnostics"]
    )


def test_fit_as_text_is_a_table_of_every_unit(run, folder):
    code, out, _ = run("fit", folder, "--on", DAY)
    assert code == 0
    assert len(re.findall(r"^\d{3} +[<>]?\d+\.\d% ( +[<>]?\d+\.\d%){5}$", out, re.MULTILINE)) == 12


def test_check_says_what_was_read(run, folder):
    code, out, _ = run("check", folder)
    assert code == 0
    assert out.startswith("Maple Row: 12 units on 2 floors, read from plan.geojson.\n")
    assert "Contacts: 8 by shared walls, 6 by floors and ceilings, " in out
    assert "Log: 5 rows, Sat 16 Mar 2024 to Sun 12 May 2024." in out
    assert out.endswith("Nothing stands in the way of a fit.\n")


def test_check_names_records_that_do_not_go_together(run, tmp_path):
    rows = [find("103", 10, "heavy", id="a1"), clear("103", 8, id="b2"), treatment("206", 5, id="c3")]
    folder = make_building(tmp_path / "odd", rows)
    code, out, _ = run("check", folder)
    said = " ".join(out.split())
    assert code == 0
    assert (
        "Note: 103: One clear look and a heavy find within a week (brief look Sun 5 May 2024, found;" in said
    )
    assert "(rows a1, b2)" in said
    assert "Note: 206: A treatment of a unit where no find is on record" in said
    told = json.loads(run("check", folder, "--json")[1])
    assert [(d["unit"], d["rows"]) for d in told["doubts"]] == [("103", ["a1", "b2"]), ("206", ["c3"])]
    assert told["units"] == 12


def test_rates_are_told_in_sentences_and_as_json(run, folder):
    code, out, err = run("rates", folder, "--on", DAY)
    assert (code, err) == (0, "")
    assert out.startswith("Maple Row, Wed 15 May 2024: what this building taught us\n")
    assert "Brought into the building: about" in out
    told = json.loads(run("rates", folder, "--on", DAY, "--json")[1])["learned"]
    names = [rate["name"] for rate in told["rates"]]
    assert names == ["brought in", "building-wide", "wall", "floor", "riser", "hallway", "moved in"]
    assert set(told["new_per_year"]) == set(names) - {"moved in"}  # what comes with people is not of a year


def test_the_past_is_told_by_week_and_as_json(run, folder):
    code, out, err = run("past", folder, "--on", DAY)
    assert (code, err) == (0, "")
    assert len(re.findall(r"^Mon .* \d+ +\d+ to \d+ +\d+ to \d+$", out, re.MULTILINE)) == 7
    assert out.splitlines()[-1].startswith("Mon 13 May 2024")
    told = json.loads(run("past", folder, "--on", DAY, "--json")[1])
    assert len(told["past"]["weeks"]) == 26
    assert set(told["chances"]) == set(CODES)
    assert {len(row) for row in told["chances"].values()} == {26}


def test_no_chance_ever_reads_as_certain(run, folder):
    printed = [run(*argv, "--on", DAY)[1] for argv in (("doors", folder), ("why", folder, "103"),
               ("fit", folder), ("rates", folder), ("past", folder))]  # fmt: skip
    for out in printed:
        assert not re.search(r"(?<![\d.<>])(0|0\.0|100|100\.0)%", out)


# -- record


def test_a_recorded_row_is_seen_by_the_next_list(run, folder):
    before = {one["unit"]: one for one in doors(run, folder)}
    argv = ["--unit", "205", "--kind", "inspection", "--method", "thorough-visual", "--found", "yes"]
    code, out, err = run("record", folder, *argv, "--level", "low", "--when", DAY, "--id", "d1")
    assert (code, err) == (0, "")
    assert out == f"Recorded as d1: 205, {DAY}: Thorough look: found, low.\n"
    after = {one["unit"]: one for one in doors(run, folder)}
    assert (before["205"]["status"], after["205"]["status"]) == ("look", "treat")
    assert after["205"]["chance"] > before["205"]["chance"]
    assert len(read_log(folder / "records.csv", CODES).rows) == 6


def test_recording_one_id_twice_is_one_row(run, folder):
    argv = ["record", folder, "--unit", "205", "--kind", "report", "--when", DAY, "--id", "d1"]
    assert run(*argv)[1].startswith("Recorded as d1")
    code, out, _ = run(*argv)
    assert code == 0
    assert out.startswith("Already recorded as d1")
    assert len(read_log(folder / "records.csv", CODES).rows) == 6


def test_a_row_without_day_and_id_is_of_today_and_gets_an_id(run, folder):
    code, out, _ = run("record", folder, "--unit", "205", "--kind", "no-access")
    last = read_log(folder / "records.csv", CODES).rows[-1]
    assert code == 0
    assert last.id in out
    assert last.unit == "205"


# -- draw


@pytest.fixture
def units(tmp_path):
    path = tmp_path / "list.csv"
    path.write_text("unit,floor\n" + "".join(f"{c},{c[0]}\n" for c in CODES))
    return path


def test_a_unit_list_becomes_a_building(run, tmp_path, units):
    folder = tmp_path / "site" / "birch-House"
    code, out, err = run("draw", units, "--layout", "double-loaded", "-o", folder)
    assert (code, err) == (0, "")
    assert out.startswith("Drew Birch House: units 12, floors 2. Drawn as double-loaded, as asked.\n")
    assert sorted(path.name for path in folder.iterdir()) == ["building.toml", "plan.geojson", "units.csv"]
    building = load_building(folder)
    assert building.name == "Birch House"
    assert list(building.plan.units) == [*CODES]
    assert building.settings.layout == "double-loaded"
    assert json.loads((folder / "plan.geojson").read_text())["coordinates_in"] == "metres"


def test_a_name_in_quotes_and_the_folder_of_work_can_be_drawn_into(run, tmp_path, units, monkeypatch):
    inside = tmp_path / "elm_court"
    inside.mkdir()
    monkeypatch.chdir(inside)
    assert run("draw", units, "-o", ".")[0] == 0
    assert load_building(inside).name == "Elm court"
    assert run("draw", units, "-o", "other", "--name", 'The "Elms" — süd')[0] == 0
    assert load_building(inside / "other").name == 'The "Elms" — süd'


def test_of_a_list_in_another_encoding_only_what_is_read_is_kept(run, tmp_path):
    path = tmp_path / "list.csv"
    path.write_bytes("Unit;Tenant;Floor;Layout\n0101;Nobody;1;d\xe9j\xe0\n0102;;1;x\n".encode("cp1252"))
    code, _, err = run("draw", path, "-o", tmp_path / "new")
    assert (code, err) == (0, "")
    assert (tmp_path / "new" / "units.csv").read_text(encoding="utf-8") == (
        "unit,floor,stack,side,order,area_m2,layout\n0101,1,,,,,d\xe9j\xe0\n0102,1,,,,,x\n"
    )


def test_a_workbook_is_drawn_as_the_same_list_in_csv_is(run, tmp_path, units):
    rows = [["Unit", "tenant", "Floor"], *([code, "Nobody", float(code[0])] for code in CODES)]
    book = tmp_path / "list.xlsx"
    book.write_bytes(write_workbook([("a note", [["nothing"]]), ("units", rows)]))
    for path, folder in ((units, "csv"), (book, "xlsx")):
        code, _, err = run("draw", path, "--name", "Birch House", "-o", tmp_path / folder)
        assert (code, err) == (0, "")
    for file in ("building.toml", "plan.geojson", "units.csv"):
        assert (tmp_path / "xlsx" / file).read_bytes() == (tmp_path / "csv" / file).read_bytes()
    assert list(load_building(tmp_path / "xlsx").plan.units) == [*CODES]


def test_a_plan_is_never_drawn_over_unless_asked(run, tmp_path, units):
    folder = tmp_path / "new"
    assert run("draw", units, "-o", folder)[0] == 0
    (folder / "plan.geojson").write_text("corrected by hand")
    code, out, err = run("draw", units, "-o", folder)
    assert (code, out) == (2, "")
    assert "may be corrected by hand; draw into another folder, or add --replace" in err
    assert (folder / "plan.geojson").read_text() == "corrected by hand"
    assert run("draw", units, "-o", folder, "--replace")[0] == 0
    assert list(load_building(folder).plan.units) == [*CODES]


def test_a_bad_list_writes_nothing(run, tmp_path):
    path = tmp_path / "list.csv"
    path.write_text("unit,floor\n101,1\n101,1\n,2\n")
    code, out, err = run("draw", path, "-o", tmp_path / "deep" / "new")
    assert (code, out) == (2, "")
    assert len(err.splitlines()) == 2
    assert not (tmp_path / "deep").exists()


def test_when_the_last_file_cannot_be_written_none_is_left(run, tmp_path, units, monkeypatch):
    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("spread.start.write_plan", full)
    code, out, err = run("draw", units, "-o", tmp_path / "deep" / "new")
    assert (code, out) == (2, "")
    assert "it cannot be written (no space left on device); name a folder you may write to." in err
    assert not (tmp_path / "deep").exists()
    (tmp_path / "there").mkdir()
    assert run("draw", units, "-o", tmp_path / "there")[0] == 2
    assert list((tmp_path / "there").iterdir()) == []


# -- the command as a process of its own


RUN = "import sys; from spread.cli import main; sys.exit(main())"


def spread(*argv, **more):
    return subprocess.run(
        [sys.executable, "-c", RUN, *map(str, argv)],
        capture_output=True, text=True, timeout=120, check=False, **more,
    )  # fmt: skip


def test_help_lists_every_command_and_the_caution():
    done = spread("--help")
    assert done.returncode == 0
    for word in ("check", "draw", "doors", "why", "fit", "record", "serve"):
        assert re.search(rf"^    {word} ", done.stdout, re.MULTILINE), word
    assert " ".join(done.stdout.split()).endswith(cli.caution())


def test_the_layouts_that_help_names_are_those_that_can_be_drawn():
    assert set(re.split(r", | or ", LAYOUT_WORDS)) == set(LAYOUTS)


def test_bad_input_ends_with_2_and_one_sentence(tmp_path):
    done = spread("doors", tmp_path / "none")
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr == "none: there is no such folder; check its name and where you are working.\n"


def test_a_reader_that_stops_early_is_no_fault(folder):
    command = [sys.executable, "-c", RUN, "check", str(folder)]
    env = {key: value for key, value in os.environ.items() if key != "PYTHONUNBUFFERED"}
    read, write = os.pipe()
    os.close(read)  # nobody will ever read
    try:
        done = subprocess.run(
            command, stdout=write, stderr=subprocess.PIPE, timeout=120, check=False, env=env
        )
    finally:
        os.close(write)
    assert (done.returncode, done.stderr) == (0, b"")


def test_ctrl_c_ends_without_a_traceback(monkeypatch, run, folder):
    def stop(*_, **__):
        raise KeyboardInterrupt

    monkeypatch.setattr("spread.session.fit", stop)
    assert run("doors", folder, "--on", DAY) == (130, "", "")


@pytest.fixture
def nobody():
    """Be a user who may not write everywhere, as root may, for as long as the test asks."""

    @contextlib.contextmanager
    def nobody():
        if not hasattr(os, "geteuid") or os.geteuid() != 0:
            yield
            return
        os.seteuid(65534)
        try:
            yield
        finally:
            os.seteuid(0)

    return nobody


def test_a_folder_that_cannot_be_written_can_still_be_read(run, folder, nobody):
    assert run("check", folder)[0] == 0  # what is loaded late is loaded now, while everything is readable
    before, names = (folder / "records.csv").read_bytes(), {path.name for path in folder.iterdir()}
    shared = Path(tempfile.mkdtemp(prefix="spread-test-")) / "maple-row"  # others may not enter tmp_path
    shutil.copytree(folder, shared)
    shared.parent.chmod(0o755)
    for path in (*shared.iterdir(), shared):
        path.chmod(0o555 if path.is_dir() else 0o444)
    try:
        with nobody():
            read = run("check", shared)
            wrote = run("record", shared, "--unit", "205", "--kind", "report", "--when", DAY)
            drew = run("draw", shared / "units.csv", "-o", shared / "new")
        assert read[0] == 0
        assert wrote[:2] == (2, "")
        assert wrote[2].startswith("records.csv: the file cannot be written (")
        assert drew[:2] == (2, "")
        assert "/new: it cannot be written (permission denied); name a folder you may write to." in drew[2]
        assert (shared / "records.csv").read_bytes() == before
        assert {path.name for path in shared.iterdir()} == names
    finally:
        shared.chmod(0o755)
        shutil.rmtree(shared.parent)

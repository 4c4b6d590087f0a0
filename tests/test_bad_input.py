"""Bad input: one clear sentence a problem, exit code 2, no traceback, nothing written.

Every kind below is run through the command line. Each sentence names the file (or the option), the
place in it, what is wrong and what to do.

====  ==========================================  =======================
 no.  what is wrong                               sentence names
====  ==========================================  =======================
   1  no such folder                              the folder
   2  a file where a folder is expected           the file
   3  a folder without building.toml and plan     both, a sentence each
   4  building.toml is not TOML                   line and column
   5  a misspelt setting                          the setting, the nearest
   6  a setting of the wrong type and range       each setting
   7  a tie to a unit that is not in the plan     the tie, the nearest
   8  plan.geojson is not JSON                    line and column
   9  JSON that is not GeoJSON                    what it is instead
  10  two units that overlap                      both units, m2
  11  a unit code drawn twice                     the unit
  12  a floor that building.toml does not have    the feature, the floors
  13  a door that touches no unit                 the door
  14  latitude and longitude swapped              the feature
  15  an outline that crosses itself              the unit
  16  a log with bad rows of several kinds        each line and field
  17  a log that stops in the middle of a row     the line
  18  a table that is no log                      the header
  19  a log that is not UTF-8                     the line
  20  two different rows of one id                both lines
  21  a correction of a row that is not there     line and field
  22  a unit list without a floor column          the field
  23  a unit list with a code twice               both lines
  24  a list that is no text and no workbook      the file
  25  a unit list that is not there               the file
  26  a layout that cannot be drawn               the layouts
  27  an output folder that is a file             the file
  28  a plan that is there already                the file
  29  a day that is no day                        the option
  30  a day of another age                        the option
  31  a unit that the building does not have      the nearest
  32  a method that does not exist                the methods
  33  a number that is no number                  the option
  34  a command that does not exist               the commands
  35  a recorded row with several faults          each field
  36  a recorded row from the future              the field
  37  a row that takes another row's id           the field
  38  a host that others could reach              the option
  39  a port that is no port                      the option
  40  items of the room that are misspelt         the item, the nearest
  41  a bed in a unit that is not there           the bed, the unit
  42  a room sheet with a dose in it              the row and field
  43  a public address without people             the option
  44  a public address that is none               the option
  45  a person's name instead of a work code      the code
  46  a folder for new buildings that is missing  the folder
  47  a list in an old kind of spreadsheet        the file
  48  a workbook without a floor column           the field
  49  a workbook with several faults              each row and field
  50  a workbook with nothing in it               the file
  51  an outlet that lies in no unit              the feature, the nearest
  52  an outlet in another unit than it names     the outlet, both units
====  ==========================================  =======================
"""

import json
import re
import shutil

import pytest
from buildings import ON, clear, make_building

from spread import cli
from spread.plan.spreadsheet import write_workbook

pytestmark = pytest.mark.usefixtures("read_here")

HEADER = "id,when,unit,kind,method,found,level,count,evidence,days,by,note,supersedes\n"
LOOK = "a1,2024-05-01,101,inspection,brief-visual,no,,,,,,,\n"


@pytest.fixture(scope="module")
def pristine(tmp_path_factory):
    return make_building(tmp_path_factory.mktemp("bad") / "maple-row", [clear("101", 60, id="a0")])


@pytest.fixture
def folder(pristine, tmp_path):
    folder = tmp_path / "maple-row"
    shutil.copytree(pristine, folder)
    shutil.copy(pristine.parent / "maple-row-list.csv", tmp_path / "list.csv")
    return folder


def write(name, text):
    """Return what spoils a building by putting this text into one of its files."""

    def spoil(folder):
        data = text if isinstance(text, bytes) else text.encode("utf-8")
        (folder / name).write_bytes(data)

    return spoil


def add(name, text):
    def spoil(folder):
        with (folder / name).open("a", encoding="utf-8") as file:
            file.write(text)

    return spoil


def redraw(change):
    """Return what spoils the drawing by changing its features in place."""

    def spoil(folder):
        path = folder / "plan.geojson"
        drawing = json.loads(path.read_text(encoding="utf-8"))
        change({f["properties"]["id"]: f for f in drawing["features"]}, drawing)
        path.write_text(json.dumps(drawing), encoding="utf-8")

    return spoil


def overlapping(features, _):
    features["103"]["geometry"] = features["101"]["geometry"]


def twice(features, drawing):
    drawing["features"].append(features["103"])


def lost_floor(features, _):
    features["103"]["properties"]["floor"] = "7"


def door_away(features, _):
    door = next(f for f in features.values() if f["properties"].get("unit") == "103")
    door["geometry"] = {"type": "Point", "coordinates": [500.0, 500.0]}


def outlet(x, y, unit=""):
    def draw(_, drawing):
        point = {"type": "Point", "coordinates": [x, y]}
        named = {"unit": unit} if unit else {}
        properties = {"kind": "outlet", "id": "O1", "floor": "1", **named}
        drawing["features"].append({"type": "Feature", "properties": properties, "geometry": point})

    return draw


def swapped(_, drawing):
    def turn(value):
        if isinstance(value[0], list):
            return [turn(one) for one in value]
        return [40.0 + value[1] * 1e-5, 131.0 + value[0] * 1e-5]  # latitude first: a house in the far east

    del drawing["coordinates_in"]
    for feature in drawing["features"]:
        feature["geometry"]["coordinates"] = turn(feature["geometry"]["coordinates"])


def crossing(features, _):
    features["103"]["geometry"]["coordinates"] = [[[0, 0], [6, 8], [6, 0], [0, 8], [0, 0]]]


def nothing(_):
    pass


def gone(folder):
    shutil.rmtree(folder)


def as_file(folder):
    shutil.rmtree(folder)
    folder.write_text("x")


def empty(folder):
    for path in folder.iterdir():
        path.unlink()


def lists(text):
    def spoil(folder):
        data = text if isinstance(text, bytes) else text.encode("utf-8")
        (folder.parent / "list.csv").write_bytes(data)

    return spoil


def workbook(rows):
    return write_workbook([("units", rows)])


CHECK = ("check", "{b}")
DRAW = ("draw", "{t}/list.csv", "-o", "{t}/new")
RECORD = ("record", "{b}", "--when", ON.isoformat())
BAD_ROWS = (
    LOOK
    + "a2,05/06/2024,999,inspection,brief-visual,no,,,,,,,\n"
    + "a3,2024-05-02,102,inspection,,maybe,,,,,,,\n"
    + "a4,2024-05-02,102,treatment,dog,,,-1,,,,,\n"
)
MANY = ("--unit", "9O1", "--kind", "inspection", "--method", "spray", "--found", "no", "--level", "low")

ROOM = 'name = "R"\nweights_source = "common practice, no source"\n' + "".join(
    f'[[items]]\ncode = "{code}"\nname = "N"\ngroup = "{code}"\nring = 0\nweight = {weight}\nlook = "L"\n'
    f'evidence = "E"\ntreat = "T"\nproduct = {product}\ncaution = "C"\n'
    'source = "common practice, no source"\n'
    for code, weight, product in (("bed", 0.8, '"As the label says."'), ("seating", 0.2, '"None."'))
)

CASES = [
    ("no such folder", gone, CHECK, [r"maple-row: there is no such folder; check its name"]),
    ("a file for a folder", as_file, CHECK, [r"maple-row: it is a file, expected .*; name the folder that"]),
    ("an empty folder", empty, ("doors", "{b}"), [r"maple-row: it has no building\.toml; write one",
     r"maple-row: it has neither plan\.geojson nor units\.csv; add a drawing, or a list"]),
    ("settings that are no TOML", write("building.toml", 'name = Maple\n'), CHECK,
     [r"building\.toml: it is not TOML \(.*line 1, column \d+.*\); write settings as in"]),
    ("a misspelt setting", add("building.toml", "histroy_weeks = 9\n"), CHECK,
     [r"building\.toml, \[model\], setting 'histroy_weeks': it is not known; did you mean 'history_weeks'"]),
    ("settings of the wrong kind",
     write("building.toml", 'name = 7\nfloors = ["1", "1"]\n[doors]\ntop = 0\n'), CHECK, [r"building\.toml,",
             r"building\.toml, setting 'floors': floor '1' is there twice; give each floor its own name",
             r"building\.toml, \[doors\], setting 'top': it is 0, expected 1 to 10000; the default is 15"]),
    ("a tie to nowhere",
     add("building.toml", '[[links]]\na = "101"\nb = "1O3"\nwhy = "shares a sofa with"\n'), CHECK, [r"buil"]),
    ("a plan that is no JSON", write("plan.geojson", '{"type": '), CHECK,
     [r"plan\.geojson, line 1, column \d+: it is not JSON \(.*\); export the drawing again as GeoJSON"]),
    ("JSON that is no GeoJSON", write("plan.geojson", "[1, 2]"), CHECK,
     [r"plan\.geojson: it is not a GeoJSON FeatureCollection \(.*\); export all features"]),
    ("overlapping units", redraw(overlapping), CHECK,
     [r"plan\.geojson, unit '101' on floor '1': it overlaps unit '103' by 48\.00 m2; move the wall between",
      r"plan\.geojson, door 'door 103': it is 1\.5 m away from its unit '103' on floor '1'.*; move the doo"]),
    ("a unit drawn twice", redraw(twice), CHECK,
     [r"plan\.geojson, feature 33 \(unit '103'\): floor '1' already has a unit '103' \(feature 3\); give o"]),
    ("an unknown floor", redraw(lost_floor), CHECK,
     [r"plan\.geojson, feature 3 \(unit '103'\): floor '7' is not a floor of the building, which has .*; w"]),
    ("a door in the open", redraw(door_away), CHECK,
     [r"plan\.geojson, door 'door 103': it is 689\.9 m away from its unit '103' on floor '1'.*; move the d"]),
    ("swapped coordinates", redraw(swapped), CHECK,
     [r"plan\.geojson, .*: its latitude is 131.*; longitude comes first and latitude second"]),
    ("a crossed outline", redraw(crossing), CHECK,
     [r"plan\.geojson, unit '103' on floor '1': its outline is not a valid polygon \(self-inter.*\); redraw",
      r"plan\.geojson, door 'door 103': it is 4\.8 m away from its unit '103' on floor '1'.*; move the doo"]),
    ("bad rows in the log", write("records.csv", HEADER + BAD_ROWS), ("doors", "{b}"),
     [r"records\.csv, line 3, field 'when': '05/06/2024' could be two different days; write the year first",
      r"records\.csv, line 3, field 'unit': unit '999' is not in the plan; .+",
      r"records\.csv, line 4, field 'method': a row of kind inspection must name its method; use brief-visua",
      r"records\.csv, line 4, field 'found': unknown found 'maybe'; use yes, no or unsure",
      r"records\.csv, line 5, field 'method': dog is a method of inspection, not of treatment; use steam",
      r"records\.csv, line 5, field 'count': a row of kind treatment does not say what was found; put it",
      r"records\.csv, line 5, field 'count': '-1' is not a whole number from 0 to 100000; write one in dig"]),
    ("a log cut short", write("records.csv", HEADER + LOOK + "a2,2024-05-"), ("fit", "{b}", "--json"),
     [r"records\.csv, line 3: the last line stops in the middle, as after a power cut .*; complete it or d"]),
    ("a log of another kind", write("records.csv", "apartment;tenant\n101;x\n"), CHECK,
     [r"records\.csv, line 1: the first line is not the header; begin with id,when"]),
    ("a log in another encoding",
     write("records.csv", (HEADER + LOOK).encode() + b"a2,2024-05-02,101,note,,,,,,,,d\xe9j\xe0,\n"), CHECK,
     [r"records\.csv, line 3: the row holds bytes that are not UTF-8; save the file as CSV in UTF-8"]),
    ("one id for two rows", write("records.csv", HEADER + LOOK + LOOK.replace("101", "102")), CHECK,
     [r"records\.csv, line 3, field 'id': id 'a1' is taken by a row that says .*, in line 2; give the new"]),
    ("a correction of nothing", write("records.csv", HEADER + LOOK.replace("no,,,,,,,", "no,,,,,,,a7")),
     ("why", "{b}", "101"),
     [r"records\.csv, line 2, field 'supersedes': there is no row 'a7'; name a row of this log"]),
    ("a list without floors", lists("unit,level\n101,1\n"), DRAW,
     [r"list\.csv: what does the column 'level' mean \(floor\?\): in 1 row, as row 2; say it in the file of",
      r"list\.csv: 1 question is open and nothing was taken in; write them into a file with --ask words"]),
    ("a list with a code twice", lists("unit,floor\n101,1\n101,1\n"), DRAW,
     [r"list\.csv, lines 2, 3, field 'unit': the unit '101' is listed 2 times; keep one row for each unit"]),
    ("a spreadsheet for a list", lists(b"PK\x03\x04\x14\x00"), DRAW,
     [r"list\.csv: it is not an XLSX workbook; save it as XLSX, or as CSV in UTF-8"]),
    ("no list", nothing, ("draw", "{t}/units.csv", "-o", "{t}/new"),
     [r"units\.csv: it cannot be read \(no such file or directory\); check its name and place"]),
    ("an unknown layout", nothing, (*DRAW, "--layout", "spiral"),
     [r"list\.csv: the layout 'spiral' is not known, expected one of double-loaded, .*; name one of these"]),
    ("an output that is a file", nothing, ("draw", "{t}/list.csv", "-o", "{t}/list.csv"),
     [r".*list\.csv: it is a file, expected a folder; name another folder"]),
    ("a plan there already", nothing, ("draw", "{t}/list.csv", "-o", "{b}"),
     [r".*plan\.geojson: it is there already and may be corrected by hand; draw into another folder, or ad"]),
    ("no day", nothing, ("doors", "{b}", "--on", "15.5.2024"),
     [r"spread doors, --on: '15\.5\.2024' is not a day, expected one such as 2026-11-25; see spread doors"]),
    ("a day of another age", nothing, ("fit", "{b}", "--on", "0024-05-15"),
     [r"spread fit, --on: 0024-05-15 is too far away, expected a day from 1990 to 2100; see spread fit"]),
    ("an unknown unit", nothing, ("why", "{b}", "1O1", "--on", ON.isoformat()),
     [r"Maple Row: there is no unit '1O1'; write '101' if that is meant"]),
    ("an unknown method", nothing, ("doors", "{b}", "--method", "sniff"),
     [r"spread doors, --method: invalid choice: 'sniff' \(choose from .*brief-visual.*\); see spread doors"]),
    ("no number", nothing, ("doors", "{b}", "--top", "-3"),
     [r"spread doors, --top: '-3' is not a whole number of 0 or more and at most 9 digits; see spread door"]),
    ("an unknown command", nothing, ("list", "{b}"),
     [r"spread, COMMAND: invalid choice: 'list' \(choose from .*check.*\); see spread --help"]),
    ("a bad row to record", nothing, (*RECORD, *MANY),
     [r"records\.csv, new row, field 'unit': unit '9O1' is not in the plan; .+",
      r"records\.csv, new row, field 'method': spray is a method of treatment, not of inspection; use brief",
      r"records\.csv, new row, field 'level': a level is given though found is no; leave it empty or mend"]),
    ("a row from the future", nothing,
     ("record", "{b}", "--unit", "101", "--kind", "report", "--when", "2099-01-01"),
     [r"records\.csv, new row, field 'when': 2099-01-01 is still to come; write the day it happened, not a"]),
    ("a taken id", nothing, (*RECORD, "--unit", "102", "--kind", "report", "--id", "a0"),
     [r"records\.csv, row 'a0', field 'id': id 'a0' is taken by a row that says something else; give the n"]),
    ("a host for all", nothing, ("serve", "{b}", "--host", "0.0.0.0"),
     [r"spread serve, --host: '0\.0\.0\.0' would show the building's records to others, .*; add people"]),
    ("a public address without people", nothing, ("serve", "{b}", "--public", "https://spread.example.org"),
     [r"spread serve, --public: 'https://spread\.example\.org' would show .* nobody has to sign in; add"]),
    ("a public address that is none", nothing, ("serve", "{b}", "--public", "spread.example.org"),
     [r"spread serve, --public: 'spread\.example\.org' is no address; write it as https://spread\.example"]),
    ("a name for a code", nothing, ("people", "{b}", "--add", "Ann"),
     [r"spread people: 'Ann' is no work code; use up to 8 letters and digits with a digit among them, such"]),
    ("no folder for new buildings", nothing, ("serve", "--folder", "{b}-nowhere"),
     [r"spread serve, --folder: there is no folder '.*maple-row-nowhere'; make it first"]),
    ("no port", nothing, ("serve", "{b}", "--port", "99999"),
     [r"spread serve, --port: 99999 is no port; choose one from 1024 to 65535"]),
    ("misspelt items of a room", nothing,
     (*RECORD, "--unit", "101", "--kind", "inspection", "--method", "brief-visual", "--found", "yes",
      "--items", "headboard: lice; sofa: live, photo ../a.jpg"),
     [r"records\.csv, new row, field 'items': item 1 \(headboard\): unknown sign 'lice'; write 'live' if",
      r"records\.csv, new row, field 'items': item 2 \(sofa\): photo '\.\./a\.jpg' leads out of the .*; "]),
    ("a bed in no unit", add("building.toml", '[[beds]]\nunit = "1O1"\nagainst = "103"\n'), CHECK,
     [r"building\.toml, beds 1, setting 'unit': unit '1O1' is not on the plan; write '101' if that is"]),
    ("a room sheet with a dose",
     write("room.toml", ROOM.replace('"As the label says."', '"Mix 20 ml in 5 litres."')),
     ("room", "{b}", "101"),
     [r"room\.toml, items 1 \(bed\), field 'product': '20 ml' reads as a dose; write 'as the label says'"]),
    ("a spoilt old spreadsheet for a list", lists(b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(504)), DRAW,
     [r"list\.csv: it is no workbook that can be read \(.*\); save it anew as XLSX or CSV"]),
    ("a workbook without floors", lists(workbook([["unit", "level"], ["101", "1"]])), DRAW,
     [r"list\.csv: what does the column 'level' mean \(floor\?\): in 1 row, as row 2; say it in the file of",
      r"list\.csv: 1 question is open and nothing was taken in; write them into a file with --ask words"]),
    ("a workbook with two faults",
     lists(workbook([["unit", "floor"], ["101", "1"], [], ["101", "1"], ["", 2]])), DRAW,
     [r"list\.csv, line 5, field 'unit': it is empty; write the code on the unit's door",
      r"list\.csv, lines 2, 4, field 'unit': the unit '101' is listed 2 times; keep one row for each unit"]),
    ("an empty workbook", lists(workbook([])), DRAW,
     [r"list\.csv: it has no units; add a row for each unit below the field names"]),
    ("an outlet in no unit", redraw(outlet(500.0, 500.0)), CHECK,
     [r"plan\.geojson, feature 33 \(outlet 'O1'\): it lies in no unit; the nearest on floor '1' is unit '"]),
    ("an outlet in another unit", redraw(outlet(5.0, 4.0, "103")), CHECK,
     [r"plan\.geojson, outlet 'O1': it names unit '103', 4\.50 m away, but lies in unit '101'; move it or"]),
]  # fmt: skip


def contents(folder):
    """Return what is in a folder; what the guard notes of a log beside it is nothing of the user's."""
    return {
        path.relative_to(folder): path.read_bytes() if path.is_file() else None
        for path in folder.rglob("*")
        if not path.name.startswith("records.csv.")
    }


@pytest.mark.parametrize(("spoil", "argv", "sentences"), [c[1:] for c in CASES], ids=[c[0] for c in CASES])
def test_bad_input_is_one_clear_sentence_a_problem(spoil, argv, sentences, folder, tmp_path, capsys):
    spoil(folder)
    before = contents(tmp_path)
    code = cli.main([part.format(b=folder, t=tmp_path) for part in argv])
    said = capsys.readouterr()
    lines = said.err.splitlines()
    assert code == 2
    assert said.out == ""
    assert "Traceback" not in said.err
    for line in lines:
        assert line.endswith("."), line
        assert "; " in line, f"says what to do: {line}"
    unmatched = [s for s in sentences if not any(re.match(s, line) for line in lines)]
    assert not unmatched, lines
    assert len(lines) == len(sentences), lines
    assert {k: v for k, v in contents(tmp_path).items() if k.suffix != ".lock"} == before


def test_there_are_as_many_kinds_as_the_table_at_the_top_lists():
    numbers = [int(n) for n in re.findall(r"^ +(\d+)  ", __doc__, re.MULTILINE)]
    assert numbers == list(range(1, len(CASES) + 1))
    assert len(CASES) >= 20

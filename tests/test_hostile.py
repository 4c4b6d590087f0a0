"""Hostile input: JSON that nobody means, characters that are not seen, cells that run, odd headers."""

from __future__ import annotations

import csv
import io
import json
import shutil

import pytest
from buildings import ON, SHORT, clear, find, make_building
from hypothesis import given
from hypothesis import strategies as st
from small import small_session

from dashboard import create_app
from dashboard.plan.view import unit_panel
from dashboard.web.sent import DEEPEST, MOST_DIGITS, read_json
from spread import cli
from spread.building import load_building
from spread.errors import PlanError, Problem, RecordError, SettingsError
from spread.plain import harmless, unseen
from spread.plan.drawing.reading import parse_unit_list
from spread.records.items import read_items
from spread.records.kinds import Record
from spread.records.parse import record_from_fields
from spread.report.lines import csv_text
from spread.settings import parse_settings
from spread.toml_file import parse_toml
from spread.words import ENGLISH, Voice
from spread.words.records import describe

UNSEEN = [
    "\x00",
    "\x07",
    "\x1b",
    "\x7f",
    "\x9b",
    "\u200b",
    "\u200e",
    "\u202e",
    "\u2066",
    "\u2069",
    "\u2028",
    "\ufeff",
]
COLOURS = "\x1b[31mred\x1b[0m \u202eback"


# -- characters


@pytest.mark.parametrize("char", UNSEEN)
def test_a_character_that_is_not_seen_is_named(char):
    assert unseen(f"10{char}1") == f"U+{ord(char):04X}"
    assert harmless(f"10{char}1") == f"10<U+{ord(char):04X}>1"


@given(st.text(st.characters(exclude_categories=("Cc", "Cf", "Cs", "Zl", "Zp"))))
def test_every_text_that_is_seen_stays_as_it_is(text):
    assert unseen(text) == ""
    assert harmless(text) == text


@given(st.text())
def test_what_is_harmless_holds_nothing_unseen_but_line_ends_tabs_and_joiners(text):
    assert unseen(harmless(text).replace("\n", "").replace("\t", ""), joiners=True) == ""
    assert harmless(harmless(text)) == harmless(text)


def test_the_joiners_of_a_script_stay_in_a_name_and_not_in_a_code():
    name = "\u0645\u06cc\u200c\u062f\u0627\u0646"
    assert unseen(name, joiners=True) == ""
    assert unseen(name) == "U+200C"


@pytest.mark.parametrize("char", UNSEEN)
def test_codes_and_names_with_such_a_character_are_refused_in_a_sentence(char):
    escaped = f"\\u{ord(char):04X}"
    for line in (f'name = "Elm{escaped} Court"', f'name = "Elm"\n[rules]\nset = "a{escaped}b"'):
        with pytest.raises(SettingsError, match=f"U\\+{ord(char):04X}"):
            parse_toml(f'floors = ["1"]\n{line}\n', "building.toml")
    with pytest.raises(SettingsError, match="not seen"):
        parse_settings({"name": f"Elm{char}x", "floors": ["1"]})
    with pytest.raises(SettingsError, match="not seen"):
        parse_settings({"name": "Elm", "floors": [f"1{char}x"]})
    if char not in "\x00\x07\x1b":  # a list with these is no text at all, and is refused as such
        for cells in (f"10{char}1,1", f"101,1{char}a"):
            with pytest.raises(PlanError, match="not seen"):
                parse_unit_list(f"unit,floor\n{cells}\n")
    fields = {"id": "a1", "when": "2024-05-01", "unit": "101", "kind": "report"}
    with pytest.raises(RecordError, match="not seen"):
        record_from_fields(fields | {"by": f"T{char}1"}, ["101"])
    with pytest.raises(RecordError, match="is not an id"):
        record_from_fields(fields | {"id": f"a{char}1"}, ["101"])
    if not char.isspace():  # a line end is a space
        assert isinstance(read_items(f"headboard: live, at bed{char}1"), list)


def test_a_drawing_with_such_a_code_is_refused(tmp_path):
    folder = make_building(tmp_path / "maple")
    path = folder / "plan.geojson"
    whole = json.loads(path.read_text())
    for kind, name in (("unit", "id"), ("door", "unit"), ("unit", "floor"), ("unit", "stack")):
        spoilt = json.loads(json.dumps(whole))
        part = next(f["properties"] for f in spoilt["features"] if f["properties"]["kind"] == kind)
        part[name] = f"{part.get(name, '1')}\u202e1"
        path.write_text(json.dumps(spoilt))
        with pytest.raises(PlanError, match=r"its (id|unit|floor|stack) holds a character that is not seen"):
            load_building(folder)


def test_a_sentence_about_bad_input_does_nothing_to_a_terminal():
    told = str(Problem(f"list{COLOURS}.csv", f"line {COLOURS}", COLOURS, COLOURS))
    assert not set(told) & {"\x1b", "\u202e"}


@pytest.fixture(scope="module")
def noted(tmp_path_factory):
    note = Record("n1", ON, "101", "note", note=COLOURS, by="T1")
    look = find("103", 3, note=COLOURS, by="T1")
    return make_building(tmp_path_factory.mktemp("noted") / "maple", [note, look, clear("104", 3)])


def test_a_note_cannot_colour_the_terminal_or_turn_its_lines(noted, run, monkeypatch):
    for command in (("why", noted, "101"), ("why", noted, "103"), ("doors", noted), ("check", noted)):
        code, out, err = run(*command, *(("--on", ON) if command[0] != "check" else ()))
        assert code == 0, err
        assert not set(out + err) & {"\x1b", "\u202e"}, command
    assert "<U+001B>[31mred" in run("why", noted, "101", "--on", ON)[1]


def test_a_note_is_told_harmlessly_in_every_voice_and_on_the_panel(noted):
    for voice in (ENGLISH, Voice("es")):
        assert not set(describe(load_building(noted).log.rows[0], voice)) & {"\x1b", "\u202e"}
    from spread.session import Session

    session = Session.open(noted, on=ON, settings=SHORT)
    shown = json.dumps(unit_panel(session, "101"), ensure_ascii=False)
    assert "<U+202E>back" in shown
    assert "\u202e" not in shown
    for name in ("week/document", "week/sheets"):
        page = create_app(session).server.test_client().get(f"/{name}")
        assert page.status_code == 200
        assert not set(page.text) & {"\x1b", "\u202e"}


def test_the_log_itself_keeps_a_note_letter_for_letter(noted):
    assert load_building(noted).log.rows[0].note == COLOURS


# -- cells


def test_no_cell_of_a_csv_for_people_runs():
    rows = [["unit", "n"], ["=1+1", 2], ["+x", -2.5], ["-x", None], ["@x", ""], ["\tx", "a"], [" =x", "ok"]]
    told = list(csv.reader(io.StringIO(csv_text(rows), newline="")))
    for cells in told:
        assert not cells[0].lstrip(" ").startswith(("=", "+", "-", "@", "\t", "\r"))
    assert told[2] == ["'+x", "-2.5"], "a number is a number"


@pytest.mark.parametrize("command", [("round",), ("doors",)])
def test_a_round_and_a_list_as_csv_guard_their_cells(tmp_path, run, command):
    codes = ["=1A", "+1B", "-1C", "@1D"]
    toml = 'name = "House"\nfloors = ["1"]\n[model]\nhistory_weeks = 26\n'
    folder = tmp_path / "house"
    folder.mkdir()
    (folder / "building.toml").write_text(toml)
    (folder / "units.csv").write_text("unit,floor\n" + "".join(f"{code},1\n" for code in codes))
    code, out, err = run(*command, folder, "--csv", "--on", ON)
    assert code == 0, err
    rows = list(csv.reader(io.StringIO(out)))
    cells = [cell for cells in rows[1:] for cell in cells]
    assert {f"'{code}" for code in codes} & set(cells)
    assert not [cell for cell in cells if cell.startswith(("=", "+", "@", "-"))]


# -- JSON


@pytest.mark.parametrize(
    "text",
    [
        "[" * (DEEPEST + 1) + "]" * (DEEPEST + 1), "[" * 60_000, '{"a":' * 5_000, "9" * (MOST_DIGITS + 1),
        "-" + "9" * 400, "0." + "1" * 400, "1e999", "-1e999", "NaN", "Infinity", "-Infinity", '{"a": NaN}',
        '"\\ud800"', '{"\\udfff": 1}', "", "{", "nul", "'a'", "[1,]", "\ufeff{}",
    ],
)  # fmt: skip
def test_json_that_nobody_means_is_no_json(text):
    with pytest.raises(ValueError, match=r"."):
        read_json(text)


whole = st.text(st.characters(exclude_categories=("Cs",)))


@given(
    st.recursive(
        st.none() | st.booleans() | st.integers(-(10**30), 10**30)
        | st.floats(allow_nan=False, allow_infinity=False) | whole,
        lambda inner: st.lists(inner) | st.dictionaries(whole, inner),
        max_leaves=20,
    )
)  # fmt: skip
def test_all_other_json_is_read_as_python_reads_it(data):
    for text in (json.dumps(data), json.dumps(data, ensure_ascii=False)):
        assert read_json(text) == json.loads(text)


def test_brackets_in_texts_are_no_depth():
    assert read_json(json.dumps(["[" * 500, '\\"[{' * 100])) == ["[" * 500, '\\"[{' * 100]


@pytest.fixture(scope="module")
def client(tmp_path_factory):
    return create_app(small_session(tmp_path_factory.mktemp("odd"))).server.test_client()


POSTS = (
    "/round/answers", "/round/now", "/programmes/start", "/programmes/accept", "/programmes/now",
    "/programmes/drivers",
    "/week/notices", "/week/move", "/cases/report", "/cases/back", "/duties/given", "/duties/back",
    "/duties/done", "/records/back", "/records/correct", "/calendar/make", "/calendar/revoke",
    "/programmes/prices", "/programmes/own",
    "/setup/draw", "/setup/create", "/import/read", "/import/take", "/import/back",
    "/trace/open", "/trace/see", "/trace/create", "/change/see", "/change/try", "/change/keep",
    "/_dash-update-component",
)  # fmt: skip


def test_the_list_of_addresses_that_take_json_is_whole(client):
    rules = client.application.url_map.iter_rules()
    takes = {rule.rule for rule in rules if "POST" in rule.methods}
    bare = {"/guard/accept", "/guard/put-back", "/programmes/stop", "/programmes/renew"}
    bare.add("/photographs/<path:name>")
    assert takes == {*POSTS, *bare}


@pytest.mark.parametrize("path", POSTS)
@pytest.mark.parametrize(
    "body",
    [b"", b"{", b"[]", b"7", b'"x"', b"null", b"NaN", b'{"a": NaN}', b"[" * 50_000, b"9" * 400,
     b'{"a": ' + b"9" * 400 + b"}",
     b'{"a":' * 10_000, b'{"a": "\\ud800"}', b"\xff\xfe", b'{"a": 1e999}'],
)  # fmt: skip
def test_every_address_says_in_a_sentence_what_it_does_not_take(client, path, body):
    reply = client.post(path, data=body, content_type="application/json")
    assert reply.status_code == 400, reply.text[:200]
    assert len(reply.json["words"].split()) > 3
    assert reply.json["words"].endswith(".")
    assert reply.json["problems"] == [reply.json["words"]]
    assert not reply.json["ok"]


@pytest.mark.parametrize("path", POSTS)
def test_json_that_is_not_marked_so_is_refused(client, path):
    for kind in ("text/plain", "", "multipart/form-data", "a/b/c", "application/x-www-form-urlencoded"):
        reply = client.post(path, data=b"{}", content_type=kind)
        assert reply.status_code in (400, 415)
        assert reply.json["words"]


@pytest.mark.parametrize("path", POSTS)
@pytest.mark.parametrize(
    "origin", ["http://[", "https://[::1", "null", "x", "http://evil.example", "\x00", "http://a@localhost"]
)
def test_an_odd_origin_is_refused_and_trips_nothing(client, path, origin):
    reply = client.post(path, json={}, headers={"Origin": origin})
    assert reply.status_code in (400, 403)
    assert reply.json["words"].endswith(".")


@pytest.mark.parametrize(
    "host", ["[", "[::1", "evil.example", "a@localhost", "localhost/x", "", "localhost:99999999"]
)
def test_an_odd_host_is_refused_and_trips_nothing(client, host):
    for reply in (
        client.get("/week", headers={"Host": host}),
        client.post("/round/now", json={}, headers={"Host": host}),
    ):
        assert reply.status_code in (400, 403), host


@pytest.mark.parametrize("length", ["abc", "-1", "1e3", "99999999999", ""])
def test_an_odd_length_trips_nothing(client, length):
    more = {"environ_overrides": {"CONTENT_LENGTH": length}}
    reply = client.post("/round/now", data=b"{}", content_type="application/json", **more)
    assert reply.status_code in (400, 413), reply.text[:200]


def test_an_odd_referer_lays_out_no_page_and_trips_nothing(client):
    for odd in ("http://[", "//", "\x00", "http://localhost:port/"):
        assert client.get("/_dash-layout", headers={"Referer": odd}).status_code == 200


def test_a_file_of_no_package_is_not_found(client):
    assert client.get("/_dash-component-suites/nowhere/file.js").status_code == 404
    assert client.get("/_dash-component-suites/dash/../../secret").status_code == 404


@pytest.mark.parametrize(
    "body",
    [
        {"output": "nowhere.children"}, {"output": 7}, {"output": "panel.children", "inputs": "x"},
        {"output": "..", "inputs": [], "outputs": []}, {"output": "asked-path.data", "inputs": []},
        {"output": "page-box.children", "inputs": [{"id": "asked-path", "property": "data"}], "outputs": 3},
        {"output": "page-box.children", "inputs": [{"id": ["x"], "property": "data"}]},
        {"output": "page-box.children", "inputs": [{"id": "asked-path", "property": "data"}],
         "outputs": {"id": "page-box", "property": "children"}, "changedPropIds": [3]},
    ],
)  # fmt: skip
def test_a_call_that_no_page_sends_is_refused(client, body):
    reply = client.post("/_dash-update-component", json=body)
    assert reply.status_code == 400
    assert "load the page again" in reply.json["words"]


# -- a log of before


def test_a_log_that_was_kept_with_an_odd_code_says_which_row(tmp_path):
    folder = make_building(tmp_path / "maple", [clear("101", 5, id="a0")])
    path = folder / "records.csv"
    path.write_text(path.read_text() + "a1,2024-05-01,101,report,,yes,,,,,T\u202e1,,\n")
    shutil.rmtree(folder / "records.csv.known", ignore_errors=True)
    assert cli.main(["check", str(folder)]) == 2

"""Signing in: who is let in, what stays shut, and who an answer is by."""

from __future__ import annotations

import csv
import datetime as dt
import io
import json
import os
import shutil
import stat
import threading
import time
from pathlib import Path

import pytest
from small import BRIEF, small_session
from staff import add_person, hash_cheaply

from dashboard import create_app
from dashboard.pages import pages
from dashboard.reach import LOCAL, reach_of
from dashboard.round.addresses import building_key
from dashboard.server import check_address, serve
from dashboard.signin.gate import safe_next
from dashboard.signin.tries import AT_ONCE, BY_ADDRESS, BY_CODE, Tries
from spread import cli
from spread.building import load_building
from spread.errors import SettingsError
from spread.people import phrases
from spread.people.folder import AUDIT_FILE, KEY_BYTES, PEOPLE_FILE, FolderPeople, read_roll
from spread.session import Session

PHRASE = "three lamps under oak"
OTHER = "nine kettles by a door"
DEMO = Path(__file__).parent.parent / "demo_buildings" / "tolliwick-gardens"
CALL = "/_dash-update-component"


@pytest.fixture
def cheap(monkeypatch):
    """Hash with little work: what is tested is not how dear the hash is."""
    hash_cheaply(monkeypatch)
    yield
    phrases._nobody.cache_clear()


@pytest.fixture
def session(tmp_path, cheap):
    add_person(tmp_path, "T1", PHRASE)
    add_person(tmp_path, "T2", OTHER)
    return small_session(tmp_path)


@pytest.fixture
def client(session):
    return create_app(session).server.test_client()


def enter(client, who="T1", phrase=PHRASE, onward="/", **more):
    return client.post("/sign-in", data={"who": who, "phrase": phrase, "next": onward}, **more)


VISIT = {"Accept": "text/html,application/xhtml+xml", "Sec-Fetch-Mode": "navigate"}
SHUT = [
    "/", "/week", "/programmes", "/setup", "/round", "/room/101", "/sign-out", "/nowhere",
    "/_dash-layout", "/_dash-dependencies", "/files/web/spread.css", "/files/plan/page.js",
    "/files/round/round.js",
    "/round/worker.js", "/round/field.css", "/round/manifest.webmanifest", "/room/sheet.json",
    "/setup/sample.csv",
]  # fmt: skip


def test_without_a_sign_in_a_visit_is_led_to_the_form_and_a_script_gets_401(client):
    for path in SHUT:
        led = client.get(path, headers=VISIT)
        assert led.status_code == 302
        assert led.headers["Location"] == f"/sign-in?next={path}"
        told = client.get(path, headers={"Accept": "*/*"})
        assert told.status_code == 401
        assert told.get_json()["sign_in"] == "/sign-in"


def test_every_address_of_the_server_is_shut_but_a_few(session):
    """Also those that a later page adds: whatever rule the server has is asked for without a cookie."""
    server = create_app(session).server
    client = server.test_client()
    openly = set()
    for rule in server.url_map.iter_rules():
        path = rule.rule.replace("<path:", "<").replace("<int:size>", "192")
        path = "".join("x" if i % 2 else part for i, part in enumerate(path.replace(">", "<").split("<")))
        for method in rule.methods - {"HEAD", "OPTIONS"}:
            if client.open(path, method=method).status_code not in (401, 302, 405):
                openly.add(path)
    # The calendar feed asks for a key of its own: without one it finds nothing (tests/test_desk.py).
    assert openly == {"/health", "/sign-in", "/sign-in/page.css", "/sign-in/page.js", "/calendar.ics"}
    assert client.get("/calendar.ics").status_code == 404


def test_callbacks_uploads_and_answers_are_shut_too(client, session):
    for path in (CALL, "/round/answers", "/setup/draw", "/setup/create", "/programmes/run"):
        assert client.post(path, json={"answers": [{"id": "00000000-1"}]}).status_code == 401
    assert not (session.building.folder / "records.csv").exists()
    assert client.get("/health").text == "OK"


def test_the_building_is_not_named_to_somebody_outside(client, session):
    for path in ("/sign-in", "/week", "/_dash-layout"):
        assert session.plan.name not in client.get(path, follow_redirects=True).text


def test_whoever_signs_in_goes_where_they_wanted_and_gets_every_page(client):
    reply = enter(client, onward="/week?unit=101")
    assert (reply.status_code, reply.headers["Location"]) == (303, "/week?unit=101")
    for page in pages():
        if page.path in ("/", "/round", "/setup"):
            assert client.get(page.path, headers=VISIT).status_code == 200
    assert client.get("/sign-in?next=/round").headers["Location"] == "/round"
    assert 'href="/sign-out"' in client.get("/").text


def test_the_code_may_be_typed_small_and_with_spaces(client):
    assert enter(client, who=" t1 ").status_code == 303


def test_the_cookie_is_kept_from_scripts_and_other_sites_for_twelve_hours(client):
    cookie = enter(client).headers["Set-Cookie"]
    assert "HttpOnly" in cookie
    assert "SameSite=Lax" in cookie
    assert "Secure" not in cookie
    assert "Path=/" in cookie
    kept = client.get_cookie("spread-" + cookie.split("spread-")[1].split("=")[0])
    left = kept.expires - dt.datetime.now(dt.UTC)
    assert dt.timedelta(hours=11, minutes=58) < left <= dt.timedelta(hours=12)
    assert "Set-Cookie" not in client.get("/round").headers, "the hours run from the sign-in"


def test_a_sign_in_ends_after_its_hours_also_for_who_keeps_the_cookie(client, session, monkeypatch):
    server = create_app(session).server
    client = server.test_client()
    enter(client)
    assert client.get("/round").status_code == 200
    monkeypatch.setitem(server.config, "PERMANENT_SESSION_LIFETIME", dt.timedelta(seconds=-1))
    assert client.get("/round").status_code == 401


def test_behind_tls_the_cookie_travels_by_https_from_this_host_only(session):
    client = create_app(session, reach_of("127.0.0.1", "https://spread.example.org")).server.test_client()
    there = {"Host": "spread.example.org", "Origin": "https://spread.example.org"}
    cookie = enter(client, headers=there).headers["Set-Cookie"]
    assert cookie.startswith("__Host-spread-")
    assert "Secure" in cookie
    assert "Domain" not in cookie


@pytest.mark.parametrize(
    ("who", "phrase"),
    [("T1", OTHER), ("T9", PHRASE), ("T1", PHRASE.upper()), ("T1", PHRASE + "x" * 300), ("T1", "x" * 300)],
)
def test_a_wrong_code_and_a_wrong_pass_phrase_get_the_same_page(client, who, phrase):
    reply = enter(client, who=who, phrase=phrase)
    assert reply.status_code == 401
    assert "do not belong together" in reply.text
    assert f'value="{who}"' in reply.text, "what was typed stays"
    assert phrase not in reply.text
    assert reply.headers["Cache-Control"] == "no-store"
    assert "Set-Cookie" not in reply.headers
    assert client.get("/round").status_code == 401


@pytest.mark.parametrize(("who", "phrase"), [("", ""), ("T1", ""), ("", PHRASE), ("   ", PHRASE)])
def test_an_empty_field_is_said_and_is_no_try(client, who, phrase):
    for _ in range(BY_CODE[0].amount + 3):
        reply = enter(client, who=who, phrase=phrase)
        assert reply.status_code == 401
        assert "Write your code and your pass phrase." in reply.text


def test_what_was_typed_cannot_become_markup(client):
    reply = enter(client, who='"><script>x', phrase="y", onward='/"><script>x')
    assert "<script>x" not in reply.text


def test_a_pass_phrase_is_the_same_however_its_accents_are_composed(tmp_path, cheap):
    add_person(tmp_path, "T1", phrases.check_phrase("caf\u00e9 over nine rivers", "T1"))
    assert phrases.is_right(read_roll(tmp_path).people["T1"], "cafe\u0301 over nine rivers")


def test_an_unknown_code_takes_as_long_as_a_known_one(tmp_path):
    """With the real hash: the two medians of seven lie within a third of one another."""
    add_person(tmp_path, "T1", PHRASE)
    roll = read_roll(tmp_path)
    assert not phrases.is_right(None, PHRASE)

    def median(code):
        times = []
        for _ in range(7):
            began = time.process_time()
            assert not phrases.is_right(roll.people.get(code), OTHER)
            times.append(time.process_time() - began)
        return sorted(times)[3]

    known, unknown = median("T1"), median("T9")
    assert known > 0.005, "the hash costs something"
    assert 0.66 < unknown / known < 1.5


def test_tries_are_counted_by_code_and_by_address_and_forgotten_with_the_right_phrase():
    tries, most = Tries(), BY_CODE[0].amount
    assert [tries.take("T1", "a") for _ in range(most)] == [0.0] * most
    assert 1.0 <= tries.take("T1", "b") <= 60.0, "from wherever it comes"
    assert tries.take("T2", "a") == 0.0, "another code does not wait"
    tries.forget("T1")
    assert tries.take("T1", "a") == 0.0


def test_one_address_cannot_try_many_codes_and_a_refused_try_counts_for_nobody():
    tries, most = Tries(), BY_ADDRESS[0].amount
    for number in range(most):
        assert tries.take(f"X{number}", "a") == 0.0
    for _ in range(50):
        assert tries.take("T1", "a") >= 1.0
    assert tries.take("T1", "b") == 0.0, "what was refused did not use up the tries of the code"


def test_no_more_than_a_few_pass_phrases_are_checked_or_waited_for_at_once():
    tries, inside, most, refused = Tries(), [], [], []
    gate = threading.Event()

    def one():
        with tries.turn() as mine:
            if not mine:
                refused.append(1)
                return
            inside.append(1)
            most.append(len(inside))
            gate.wait(10)
            inside.pop()

    threads = [threading.Thread(target=one) for _ in range(24)]
    for thread in threads:
        thread.start()
    deadline = time.monotonic() + 10
    while len(refused) < 24 - 2 * AT_ONCE:
        assert time.monotonic() < deadline
        time.sleep(0.01)
    gate.set()
    for thread in threads:
        thread.join()
    assert max(most) == AT_ONCE
    assert len(refused) == 24 - 2 * AT_ONCE


def test_the_page_says_how_long_to_wait_for_known_and_unknown_alike(client):
    for who in ("T1", "T9"):
        for _ in range(BY_CODE[0].amount):
            assert enter(client, who=who, phrase=OTHER + "x").status_code == 401
        reply = enter(client, who=who)
        assert reply.status_code == 429, "also with the right pass phrase"
        assert 1 <= int(reply.headers["Retry-After"]) <= 60
        assert "Too many wrong tries" in reply.text
    assert enter(client, who="T2", phrase=OTHER).status_code == 303


def test_tries_at_one_moment_all_count(client, session):
    server = create_app(session).server
    replies = []

    def once():
        replies.append(enter(server.test_client(), phrase=OTHER).status_code)

    threads = [threading.Thread(target=once) for _ in range(10)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert replies.count(429) == 10 - BY_CODE[0].amount
    assert set(replies) <= {401, 429, 503}, "503 where too many are checked at once; the try has counted"


@pytest.mark.parametrize(
    "onward",
    [
        "https://evil.example/", "//evil.example", "///evil.example", "/\\evil.example", "\\\\evil.example",
        "javascript:alert(1)", "evil.example", "/\tx", "/\n//evil.example", "", "/sign-in", "/sign-out",
        "/sign-in?next=/x", "http:/x", "/%0d\r\nSet-Cookie: a=b",
    ],
)  # fmt: skip
def test_a_link_to_the_form_cannot_send_anybody_elsewhere(onward):
    assert safe_next(onward) == "/"


def test_the_form_goes_by_that_rule(client):
    assert 'name="next" value="/"' in client.get("/sign-in?next=//evil.example").text
    assert enter(client, onward="//evil.example").headers["Location"] == "/"


@pytest.mark.parametrize("onward", ["/", "/round", "/room/304?from=r1", "/week?on=2026-11-20&a=b"])
def test_addresses_of_this_server_are_kept(onward):
    assert safe_next(onward) == onward


def test_signing_out_shuts_the_pages_again(client):
    enter(client)
    asked = client.get("/sign-out", headers=VISIT)
    assert "<b>T1</b>" in asked.text
    assert client.get("/round").status_code == 200, "the page alone signs nobody out"
    assert client.post("/sign-out").headers["Location"] == "/sign-in?out=1"
    assert client.get("/round").status_code == 401


def test_who_is_taken_out_or_gets_a_new_pass_phrase_is_out_at_once(client, session, tmp_path):
    enter(client)
    add_person(tmp_path, "T1", OTHER + " x")
    assert client.get("/round").status_code == 401
    enter(client, phrase=OTHER + " x")
    assert client.get("/round").status_code == 200
    FolderPeople(tmp_path).take_out("T1")
    assert client.get("/round").status_code == 401
    assert enter(client, phrase=OTHER + " x").status_code == 401


@pytest.mark.parametrize(
    "spoil", [lambda p: p.unlink(), lambda p: p.write_text("{}"), lambda p: p.write_text("")]
)
def test_a_people_file_that_goes_while_it_is_served_lets_nobody_in(client, tmp_path, spoil):
    enter(client)
    spoil(tmp_path / PEOPLE_FILE)
    assert client.get("/round").status_code == 401
    reply = enter(client)
    assert reply.status_code == 503
    assert "cannot be read" in reply.text


def test_a_cookie_of_another_building_opens_nothing(client, session, tmp_path, cheap):
    (tmp_path / "b").mkdir()
    add_person(tmp_path / "b", "T1", PHRASE)
    other = create_app(small_session(tmp_path / "b")).server.test_client()
    name, _, value = enter(other).headers["Set-Cookie"].partition(";")[0].partition("=")
    client.set_cookie(name, value)
    assert client.get("/round").status_code == 401


def test_a_page_elsewhere_cannot_sign_anybody_in_or_out(client):
    for headers in ({"Origin": "https://evil.example"}, {"Sec-Fetch-Site": "cross-site"}):
        assert enter(client, headers=headers).status_code == 403
        assert client.post("/sign-out", headers=headers).status_code == 403


@pytest.mark.parametrize(
    ("host", "public", "asked", "ours"),
    [
        ("127.0.0.1", "", "localhost:8050", True),
        ("127.0.0.1", "", "192.168.1.4:8050", False),
        ("127.0.0.1", "https://spread.example.org", "spread.example.org", True),
        ("127.0.0.1", "https://spread.example.org:8443", "spread.example.org:8443", True),
        ("127.0.0.1", "https://spread.example.org", "x.spread.example.org", False),
        ("127.0.0.1", "https://spread.example.org", "192.168.1.4", False),
        ("0.0.0.0", "", "192.168.1.4:8050", True),
        ("::", "", "[fe80::1]:8050", True),
        ("0.0.0.0", "", "rebound.example:8050", False),
        ("0.0.0.0", "", "192.168.1.4.evil.example", False),
        ("192.168.1.4", "", "192.168.1.4:8050", True),
        ("192.168.1.4", "", "192.168.1.5:8050", False),
        ("::1", "", "[::1]:8050", True),
        ("0.0.0.0", "", "evil.example@127.0.0.1", False),
        ("127.0.0.1", "", "evil.example#@localhost", False),
        ("127.0.0.1", "", "[::1", False),
        ("127.0.0.1", "", "", False),
    ],
)
def test_only_our_own_hosts_are_trusted(host, public, asked, ours):
    assert reach_of(host, public).trusts(asked) == ours


def test_a_host_that_is_not_ours_gets_no_answer_at_all(session):
    client = create_app(session, reach_of("127.0.0.1", "https://spread.example.org")).server.test_client()
    for asked, status in (("spread.example.org", 200), ("[::1]:8050", 200), ("evil.example", 400)):
        assert client.get("/health", headers={"Host": asked}).status_code == status


def test_a_proxy_that_keeps_the_host_to_itself_still_passes_our_own_origin(session):
    client = create_app(session, reach_of("127.0.0.1", "https://spread.example.org")).server.test_client()
    host = {"Host": "127.0.0.1:8050"}
    assert enter(client, headers={"Origin": "https://spread.example.org", **host}).status_code == 303
    assert enter(client, headers={"Origin": "http://spread.example.org", **host}).status_code == 403


@pytest.mark.parametrize(
    "public",
    ["spread.example.org", "ftp://spread.example.org", "https://", "https://a b.example", "https://x:y@z.example",
     "https://spread.example.org/below", "https://spread.example.org:99999", "https://*.example.org", "https://[::1"],
)  # fmt: skip
def test_a_public_address_that_is_none_is_said_in_a_sentence(public):
    with pytest.raises(SettingsError, match="--public") as caught:
        reach_of("127.0.0.1", public)
    assert "\n" not in str(caught.value)


def test_nobody_is_served_to_others_without_people(tmp_path, cheap):
    for host, public in (("0.0.0.0", ""), ("192.168.1.4", ""), ("127.0.0.1", "https://a.example")):
        with pytest.raises(SettingsError, match="nobody has to sign in"):
            check_address(host, 8050, public, tmp_path)
        with pytest.raises(SettingsError, match="make the building on this machine first"):
            check_address(host, 8050, public)
    add_person(tmp_path, "T1", PHRASE)
    check_address("0.0.0.0", 8050, "", tmp_path)
    FolderPeople(tmp_path).take_out("T1")
    for host in ("0.0.0.0", "127.0.0.1"):
        with pytest.raises(SettingsError, match="nobody can sign in"):
            check_address(host, 8050, "", tmp_path)


@pytest.mark.parametrize(
    ("host", "public", "said", "clear"),
    [
        ("0.0.0.0", "", "open at http://127.0.0.1:8050/ ", True),
        ("192.0.2.4", "", "open at http://192.0.2.4:8050/ ", True),
        ("127.0.0.1", "http://spread.example.org/", "open at http://spread.example.org/ ", True),
        ("127.0.0.1", "https://spread.example.org", "open at https://spread.example.org/ ", False),
        ("127.0.0.1", "", "open at http://127.0.0.1:8050/ ", False),
    ],
)
def test_serve_says_where_it_is_and_what_crosses_the_network_in_the_clear(
    session, monkeypatch, host, public, said, clear
):
    told = []
    monkeypatch.setattr("dashboard.server.run", lambda _server, *told_now, **_more: told.append(told_now))
    serve(session, host=host, public=public)
    assert told[0][:2] == (host, 8050)
    assert said in told[0][2]
    assert ("without TLS" in told[0][2]) == clear


def test_without_a_people_file_all_is_open_as_before(tmp_path):
    client = create_app(small_session(tmp_path), LOCAL).server.test_client()
    page = client.get("/")
    assert page.status_code == 200
    assert "sign-out" not in page.text
    assert "Set-Cookie" not in page.headers
    assert client.get("/sign-in").status_code == 404


# -- the file


def test_the_file_is_private_hashed_and_has_a_key_of_its_own(tmp_path, cheap):
    for folder in (tmp_path / "a", tmp_path / "b"):
        folder.mkdir()
        add_person(folder, "T1", PHRASE)
    texts = [(tmp_path / name / PEOPLE_FILE).read_text() for name in "ab"]
    keys = [json.loads(text)["key"] for text in texts]
    assert keys[0] != keys[1]
    assert all(len(bytes.fromhex(key)) == KEY_BYTES for key in keys)
    assert PHRASE not in texts[0]
    if os.name == "posix":
        assert stat.S_IMODE((tmp_path / "a" / PEOPLE_FILE).stat().st_mode) == 0o600
    names = [".people.json.lock", AUDIT_FILE, PEOPLE_FILE]
    assert sorted(p.name for p in (tmp_path / "a").iterdir()) == names
    if os.name == "posix":
        assert stat.S_IMODE((tmp_path / "a" / AUDIT_FILE).stat().st_mode) == 0o600


def test_the_hash_is_argon2id_with_a_salt_at_the_cost_that_rfc_9106_recommends():
    """RFC 9106 (2021), section 4, second recommended option: t=3, p=4, m=2^16 KiB (64 MiB)."""
    one, two = phrases.hashed(PHRASE), phrases.hashed(PHRASE)
    assert one.startswith("$argon2id$v=19$m=65536,t=3,p=4$")
    assert one != two


@pytest.mark.skipif(os.name != "posix", reason="modes are POSIX")
@pytest.mark.parametrize("mode", [0o640, 0o604, 0o660])
def test_a_file_that_others_may_read_is_refused(tmp_path, cheap, mode):
    add_person(tmp_path, "T1", PHRASE)
    (tmp_path / PEOPLE_FILE).chmod(mode)
    with pytest.raises(SettingsError, match="chmod 600"):
        create_app(small_session(tmp_path))


@pytest.mark.parametrize(
    "text", ["", "[]", "{}", '{"key": "ab", "people": {}}', '{"key": "zz", "people": {}}',
             '{"key": "%s", "people": {"T1": 3}}' % ("ab" * 32), '{"key": "%s", "people": []}' % ("ab" * 32)],
)  # fmt: skip
def test_a_spoilt_file_is_one_sentence_and_never_an_open_building(tmp_path, text):
    path = tmp_path / PEOPLE_FILE
    path.write_text(text)
    path.chmod(0o600)
    with pytest.raises(SettingsError, match=r"people\.json: it is not what spread people writes"):
        create_app(small_session(tmp_path))


def test_ten_who_are_added_at_once_are_all_kept(tmp_path, cheap):
    threads = [threading.Thread(target=add_person, args=(tmp_path, f"T{n}", PHRASE)) for n in range(10)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert set(read_roll(tmp_path).people) == {f"T{n}" for n in range(10)}


# -- the command


@pytest.fixture
def folder(tmp_path, cheap):
    folder = tmp_path / "tolliwick"
    shutil.copytree(DEMO, folder)
    return folder


def command(monkeypatch, capsys, *argv, typed=""):
    monkeypatch.setattr("sys.stdin", io.StringIO(typed))
    code = cli.main(["people", *map(str, argv)])
    told = capsys.readouterr()
    assert typed.strip() == "" or typed.strip() not in told.out + told.err
    return code, told.out, told.err


def test_people_are_added_listed_and_taken_out(folder, monkeypatch, capsys):
    assert command(monkeypatch, capsys, folder, "--list")[1].startswith("Nobody can sign in.")
    code, out, _ = command(monkeypatch, capsys, folder, "--add", "t1", typed=PHRASE + "\n")
    assert code == 0
    assert out.startswith("T1 can sign in.")
    assert "people.json" in out
    out = command(monkeypatch, capsys, folder, "--add", "T1", typed=OTHER)[1]
    assert "new pass phrase" in out
    assert phrases.is_right(read_roll(folder).people["T1"], OTHER)
    assert command(monkeypatch, capsys, folder, "--list")[1] == f"T1  since {dt.date.today()}  technician\n"
    assert command(monkeypatch, capsys, folder, "--remove", "T1")[0] == 0
    assert read_roll(folder).people == {}


@pytest.mark.parametrize(
    ("argv", "typed", "sentence"),
    [
        (("--add", "Maria"), PHRASE, "'Maria' is no work code; use up to 8 letters and digits with a digit"),
        (("--add", "Maria Lopez 2"), PHRASE, "is no work code"),
        (("--add", "T12345678"), PHRASE, "is no work code"),
        (("--add", ""), PHRASE, "is no work code"),
        (("--add", "T1"), "", "pass phrase of T1: it is 0 long, expected at least 15 characters"),
        (
            ("--add", "T1"),
            "short",
            "it is 5 long, expected at least 15 characters; choose four or more words",
        ),
        (("--add", "T1"), "a" * 20, "repeats too few characters"),
        (("--add", "T1"), "T1T1T1T1T1T1T1T1T1", "repeats too few characters"),
        (("--add", "T1"), "x" * 100 + "abcdefgh" * 30, "at most 256"),
        (("--remove", "T7"), "", "T7: there is no T7; choose among: nobody"),
        ((), "", "one of the arguments --add --remove --list --sign-out --audit is required"),
        (("--add", "T1", "--list"), "", "not allowed with"),
    ],
)
def test_bad_people_are_one_sentence_and_nothing_written(folder, monkeypatch, capsys, argv, typed, sentence):
    code, out, err = command(monkeypatch, capsys, folder, *argv, typed=typed)
    assert code == 2
    assert out == ""
    assert sentence in err
    assert err.count("\n") == 1
    assert not (folder / PEOPLE_FILE).exists()


def test_a_folder_that_is_no_building_gets_no_people(tmp_path, monkeypatch, capsys):
    code, _, err = command(monkeypatch, capsys, tmp_path, "--add", "T1", typed=PHRASE)
    assert code == 2
    assert "there is no building.toml in it" in err
    assert list(tmp_path.iterdir()) == []


def test_on_a_terminal_it_is_asked_twice_and_must_be_the_same(folder, monkeypatch, capsys):
    asked = []
    monkeypatch.setattr("sys.stdin.isatty", lambda: True, raising=False)
    answers = iter([PHRASE, OTHER, PHRASE, PHRASE])
    monkeypatch.setattr("getpass.getpass", lambda words: (asked.append(words), next(answers))[1])
    assert cli.main(["people", str(folder), "--add", "T1"]) == 2
    assert "the two were not the same" in capsys.readouterr().err
    assert cli.main(["people", str(folder), "--add", "T1"]) == 0
    assert len(asked) == 4


def test_exports_hold_nothing_of_the_people(folder, monkeypatch, capsys, tmp_path):
    monkeypatch.setattr("spread.session.FitSettings", lambda: BRIEF)
    command(monkeypatch, capsys, folder, "--add", "T1", typed=PHRASE)
    roll = read_roll(folder)
    secrets = [part.encode() for part in (roll.key, roll.people["T1"].hash, "people.json")]
    out = tmp_path / "out"
    assert cli.main(["export", str(folder), "-o", str(out), "--on", "2026-11-20"]) == 0
    files = [path for path in out.rglob("*") if path.is_file()] if out.is_dir() else [out]
    assert len(files) >= 1
    for path in files:
        assert not any(secret in path.read_bytes() for secret in secrets), path.name


# -- who an answer is by


@pytest.fixture(scope="module")
def fitted(tmp_path_factory):
    folder = tmp_path_factory.mktemp("signin") / DEMO.name
    shutil.copytree(DEMO, folder)
    return Session.open(folder, on=dt.date(2026, 11, 20), settings=BRIEF)


@pytest.fixture
def real(fitted, tmp_path, cheap):
    folder = tmp_path / DEMO.name
    shutil.copytree(DEMO, folder)
    add_person(folder, "T1", PHRASE)
    add_person(folder, "T2", OTHER)
    building = load_building(folder)
    yield (own := Session(building, fitted.view.posterior, fitted.fit_settings))
    own.wait()


def by_id(session):
    with (session.building.folder / "records.csv").open(newline="", encoding="utf-8") as file:
        return {row["id"]: row for row in csv.DictReader(file)}


def given(number, **more):
    identity = f"00000000-0000-4000-8000-{number:012d}"
    return {"id": identity, "unit": "A101", "answer": "clear", "method": "brief-visual", **more}


def sent(client, *answers, key=""):
    key = key or client.post("/round/answers", json={}).get_json()["building"]["key"]
    return client.post("/round/answers", json={"building": key, "answers": list(answers)})


def test_a_phone_answer_is_by_whoever_is_signed_in_whatever_the_phone_says(real):
    client = create_app(real).server.test_client()
    enter(client)
    reply = sent(client, given(1, by="T2", who="T2")).get_json()
    assert reply["replies"][0]["ok"]
    assert reply["building"]["who"] == "T1"
    assert by_id(real)[given(1)["id"]]["by"] == "T1"


def test_an_answer_of_the_plan_page_is_by_whoever_is_signed_in(real):
    client = create_app(real).server.test_client()
    enter(client, who="T2", phrase=OTHER)
    outputs = ["reply.data", "seen.data", "poll.disabled", "busy.children"]
    call = {
        "output": ".." + "...".join(outputs) + "..",
        "outputs": [dict(zip(("id", "property"), one.split("."), strict=True)) for one in outputs],
        "inputs": [{"id": "answer", "property": "data", "value": given(2, by="T1")}],
        "changedPropIds": ["answer.data"],
    }
    assert client.post(CALL, json=call).status_code == 200
    assert by_id(real)[given(2)["id"]]["by"] == "T2"


def test_one_persons_answers_do_not_go_out_under_anothers_code_by_themselves(real):
    client = create_app(real).server.test_client()
    enter(client)
    first = client.post("/round/answers", json={}).get_json()["building"]
    client.post("/sign-out")
    enter(client, who="T2", phrase=OTHER)
    refused = sent(client, given(3), key=first["key"])
    assert refused.status_code == 409
    assert refused.get_json()["building"]["who"] == "T2"
    assert given(3)["id"] not in by_id(real)


def test_an_answer_whose_reply_was_lost_is_one_record_by_who_gave_it(real):
    client = create_app(real).server.test_client()
    enter(client)
    sent(client, given(4))
    client.post("/sign-out")
    assert sent_status(client, given(4)) == 401
    enter(client, who="T2", phrase=OTHER)
    reply = sent(client, given(4)).get_json()["replies"][0]
    assert (reply["ok"], reply["new"]) == (True, False)
    assert by_id(real)[given(4)["id"]]["by"] == "T1"


def sent_status(client, *answers):
    return client.post("/round/answers", json={"building": "x", "answers": list(answers)}).status_code


def test_a_phones_key_is_as_before_where_nobody_signs_in(real):
    keys = set()
    for name in ("T1", "T2"):
        client = create_app(real).server.test_client()
        enter(client, who=name, phrase=PHRASE if name == "T1" else OTHER)
        keys.add(client.post("/round/answers", json={}).get_json()["building"]["key"])
    assert len(keys | {building_key(real)}) == 3

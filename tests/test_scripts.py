"""The scripts of the pages: read by node, tested by node, and in one voice with the server."""

from __future__ import annotations

import datetime as dt
import json
import os
import re
import shutil
import subprocess
from pathlib import Path

import numpy as np
import pytest

import dashboard
from dashboard.web.files import modules_of, text_of
from spread.trade.room import SLEEPING
from spread.words.phone import phone_words
from spread.words.voice import LANGUAGES, MEASURES, Voice

HERE = Path(dashboard.__file__).parent
SCRIPTS = sorted(path.relative_to(HERE).as_posix() for path in HERE.rglob("*.js"))
MODULES = [name for name in SCRIPTS if name != "round/worker.js"]
PHONE = [name for name in MODULES if name.startswith("round/")]
LOCAL = (HERE / "web" / "local.js").as_uri()


def node(*asked: str, given: str = "") -> str:
    path = shutil.which("node")
    if path is None:
        if os.environ.get("CI"):
            pytest.fail("node is not installed, and CI is set")
        pytest.skip("node is not installed (20 or later)")
    done = subprocess.run([path, *asked], input=given, capture_output=True, text=True, timeout=120)  # noqa: PLW1510
    assert done.returncode == 0, done.stdout[-4000:] + done.stderr[-4000:]
    return done.stdout


def test_the_tests_of_the_modules_pass():
    tests = sorted(map(str, (Path(__file__).parent / "js").glob("*.test.mjs")))
    assert len(tests) >= 4
    told = node("--test", *tests)
    assert int(re.search(r"^# pass (\d+)", told, re.MULTILINE)[1]) >= 21


@pytest.mark.parametrize("name", MODULES)
def test_a_script_is_a_module_that_can_be_read_and_leaves_nothing_on_the_window(name):
    text = text_of(name)
    node("--input-type=module", "--check", given=text)
    put = set(re.findall(r"\bwindow\.(\w+) = ", text))
    assert put <= {"web/dash.js": {"dash_clientside"}, "web/sign_again.js": {"fetch"}}.get(name, set())
    assert "innerHTML" not in text


@pytest.mark.parametrize("name", MODULES)
def test_every_import_is_there_with_what_is_asked_of_it(name):
    for wanted, other in re.findall(r'^import \{ ([^}]+) \} from "([^"]+)";', text_of(name), re.MULTILINE):
        path = os.path.normpath(f"{Path(name).parent}/{other}")
        for one in wanted.split(", "):
            plain = one.split(" as ")[0]
            assert re.search(
                rf"^export (?:const|function|async function) {plain}\b", text_of(path), re.MULTILINE
            ), f"{plain} of {path}"
    assert set(modules_of(name)) <= set(MODULES)


def test_scripts_say_lengths_and_days_as_the_server_does():
    metres = [
        *map(float, np.round(np.geomspace(0.04, 900, 160), 2)),
        *(k / 2 for k in range(60)),
        2.99,
        1234.5,
    ]
    days = ["2026-01-01", "2026-05-31", "2026-09-05", "2026-11-25", "2024-02-29"]
    ways = [
        (language, measure, digits) for language in LANGUAGES for measure in MEASURES for digits in (0, 1)
    ]
    script = f"""
import {{ localOf }} from {json.dumps(LOCAL)};
const told = [];
for (const [language, measure, digits] of {json.dumps(ways)}) {{
  const voice = localOf(language, measure);
  const far = {json.dumps(metres)}.map((one) => voice.distance(one, digits));
  told.push([...far, ...{json.dumps(days)}.flatMap((day) => [voice.speakDay(day), voice.speakShort(day)])]);
}}
console.log(JSON.stringify(told));"""
    expected = []
    for language, measure, digits in ways:
        voice = Voice(language, measure)
        dates = map(dt.date.fromisoformat, days)
        far = [voice.distance(one, digits) for one in metres]
        expected.append(far + [text for day in dates for text in (voice.day(day), voice.short_day(day))])
    said = json.loads(node("--input-type=module", given=script))
    for ours, theirs in zip(said, expected, strict=True):
        plain = [text.replace("\u00a0", " ").replace("\u202f", " ") for text in theirs]
        assert ours == plain


def test_every_text_that_a_phone_script_or_page_asks_for_is_in_the_table_and_none_is_left_over():
    table = phone_words(Voice())
    text = "\n".join(map(text_of, PHONE))
    pages = "\n".join(text_of(f"round/{page}.html") for page in ("field", "round", "room"))
    asked = set(re.findall(r'\b(?:say|parts)\("(\w+)"', text)) | set(re.findall(r"say\.(\w+)", pages))
    forms = set(re.findall(r'\bmany\("(\w+)"', text)) | {"up", "down"}
    assert asked <= {key for key, one in table.items() if isinstance(one, str)}
    assert forms == {key for key, one in table.items() if isinstance(one, list)}
    by_code = {"said_clear", "said_nobody", "said_refused", *(f"place_{kind}" for kind in SLEEPING)}
    chosen = {key for key in table if f'"{key}"' in text}  # such as say(some ? "clear_this" : "nothing")
    assert set(table) - asked - forms - by_code - chosen == set()


def test_no_phone_script_or_page_has_a_sentence_of_its_own():
    """Words on the phone come from the table: no literal of a script holds two words of English."""
    for name in PHONE:
        text = re.sub(r"/\*.*?\*/|//[^\n]*", "", text_of(name), flags=re.DOTALL)
        for literal in re.findall(r'(?:text|"aria-label"|textContent)(?:: | = )"([^"]*)"', text):
            assert not re.search(r"[A-Za-z]{2}", literal), (name, literal)
        assert not re.search(r'"[A-Z][a-z]+ [a-z]+ [^"]*"', text), name


@pytest.mark.parametrize("name", MODULES)
def test_no_script_looks_for_patterns_in_sentences(name):
    assert not re.search(r"\.startsWith\(\"[A-Z]", text_of(name))
    assert "createTreeWalker" not in text_of(name)
    assert not re.search(r"Mon\|Tue|Jan\", \"Feb|\\d\+[^/]* m\\b", text_of(name))

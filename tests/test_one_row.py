"""One row adds a method or a route: looks, a monitor, a treatment and a route, in a process of their own.

``one_row_more.py`` adds the rows as DEVELOPERS.md tells, before the rest of the package is loaded; then every
command and page is walked as for the rows of today.
"""

import json
import subprocess
import sys
from pathlib import Path

import pytest
from every_row import every_row_is_said

HERE = Path(__file__).parent


@pytest.fixture(scope="module")
def said(tmp_path_factory):
    folder = tmp_path_factory.mktemp("one-row") / "maple-row"
    done = subprocess.run(
        [sys.executable, HERE / "every_row.py", folder, HERE / "one_row_more.py"],
        capture_output=True, text=True, timeout=600, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr[-3000:]
    return json.loads(done.stdout)


@pytest.mark.parametrize(
    ("place", "words"),
    [
        ("check", "1 by shared laundries"),
        ("rates", "shared laundries"),
        ("why", "is tied by laundry to"),
        ("check", "12 by pairs on the same stairs"),
        ("rates", "shared stairs"),
    ],
)
def test_a_route_by_hand_and_a_measured_one_are_counted_learned_and_named(said, place, words):
    assert words.lower() in said[place].lower()


@pytest.mark.parametrize(
    ("place", "words"),
    [
        ("record lamp-look", "Lamp look: nothing found"),
        ("record nose", "Electronic nose: alert (not yet confirmed)"),
        ("record nose", "Electronic nose: no smell"),
        ("record glue-card", "Glue cards for 14 days: nothing caught"),
        ("history", "Cold room treatment"),
        ("doors lamp-look", "Looking by: lamp look."),
        ("doors glue-card", "Looking by: glue cards."),
        ("round nose", "by electronic nose, then a lamp look to confirm an alert"),
        ("round glue-card", "by setting up glue cards"),
        ("methods", "Lamp look: "),
        ("methods", "Electronic nose, then a lamp look to confirm an alert"),
        ("methods", "that clears nothing"),
        ("methods", "If nothing is caught"),
        ("phone lamp-look", "the strong lamp"),
        ("phone nose", '"alerts": true'),
        ("plan form", '["glue-card", "Glue cards"]'),
        ("plan form", '["cold-room", "Cold room"]'),
        ("room choices", '["lamp-look", "Lamp look"]'),
        ("room choices", '["glue-card", "Glue cards"]'),
        ("/programmes", "Lamp look: fee or material"),
        ("/programmes", "Glue cards: check"),
        ("/programmes", "Cold room: material"),
    ],
)
def test_new_methods_are_said_wherever_methods_are(said, place, words):
    assert words in said[place]


def test_every_row_of_today_goes_through_every_command_and_page_beside_them(said):
    every_row_is_said(said)


def test_a_programme_by_a_new_method_looks_by_it(said):
    """At 0, every eighth week over 26: three surveys or four of 12 units, some doors shut."""
    text = "".join(words for place, words in said.items() if place.startswith("compare"))
    for way in ("lamp-look", "nose", "glue-card"):
        assert f"By {way}" in text


def test_new_rows_have_luck_of_their_own_and_leave_that_of_others_alone():
    code = (
        "import runpy, json; runpy.run_path('one_row_more.py'); import numpy as np;"
        "from spread.programmes.tables import streams, look_tables, _luck;"
        "from spread.programmes.columns import METHODS, WIDTH;"
        "print(json.dumps([METHODS, [[int(k) for k in row] for row in _luck()], streams(), WIDTH]))"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, timeout=120, check=True, cwd=HERE,
        env={"PYTHONPATH": str(HERE.parent)},
    )  # fmt: skip
    methods, luck, names, columns = json.loads(done.stdout)
    from spread.programmes.columns import METHODS as BEFORE
    from spread.programmes.columns import WIDTH
    from spread.programmes.tables import streams

    assert len(methods) == len(BEFORE) + 3
    assert columns == WIDTH + 2 * 3 + 3
    keys = [key for row in luck for key in row]
    assert len(set(keys)) == 2 * len(methods)
    mine = dict(zip(names[0], luck[0], strict=True))
    for name, method in zip(streams()[0], BEFORE, strict=True):
        assert mine[name] == luck[0][methods.index(method)]
    assert mine["look:nose"] not in (mine["look:lamp-look"], mine["look:dog"])

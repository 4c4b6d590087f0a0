"""The registries: every row of today goes through every command and page, and no row contradicts itself."""

import ast
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from every_row import every_row_is_said, walk

from spread import session
from spread.programmes.columns import METHODS
from spread.programmes.keys import DECISIONS, MOST_UNITS, apart, run_key, stream, uniform, week_key
from spread.programmes.tables import streams
from spread.trade import registry
from spread.trade.methods.looks import BRIEF, DOG
from spread.trade.methods.monitors import INTERCEPTORS
from spread.trade.routes import ROUTES

ROOT = Path(__file__).parent.parent
METHOD_KEYS = {*registry.LOOKING, *registry.TREATMENTS}


@pytest.mark.slow  # with rows more than today's in test_one_row
def test_every_row_goes_through_every_command_and_page(tmp_path, monkeypatch):
    monkeypatch.setattr(session, "FitSettings", session.FitSettings)  # put back what the walk sets
    every_row_is_said(walk(tmp_path / "maple-row"))


# -- no other module tells a method or a route from the rest

MAY_NAME = {
    "spread/trade/methods": "the rows themselves",
    "spread/trade/route_rows.py": "the rows themselves",
    "spread/worlds/practice.py": "what a made firm does, one of many",
    "spread/programmes/programme.py": "what a programme is if nobody says",
    "spread/programmes/optimise.py": "what a search starts from",
    "spread/settings.py": "what a building is if nobody says",
    "spread/decisions/round/parts.py": "what a round is if nobody says",
    "spread/decisions/doors/benefit.py": "the course of treatment that a find is worth",
    "spread/contacts/links.py": "what a tie is if nobody says",
}
ROOM_ITEMS = {"interceptors"}
"""Also the code of an item of the room sheet."""
SAYS_ROUTES = ("spread/contacts/relations.py", "spread/decisions/doors/", "spread/words/")
"""Where what was measured of a route is put into words, each in its own; any other has words of its own."""


def literals(path):
    tree = ast.parse(path.read_text(encoding="utf-8"))
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, str):
            yield node.value, node.lineno


def test_no_module_names_a_method_to_tell_it_from_the_rest():
    named = []
    for package in ("spread", "dashboard"):
        for path in sorted((ROOT / package).rglob("*.py")):
            file = path.relative_to(ROOT).as_posix()
            if any(file.startswith(free) for free in MAY_NAME):
                continue
            named += [
                f"{file}:{line}: {word}" for word, line in literals(path) if word in METHOD_KEYS - ROOM_ITEMS
            ]
    assert named == []


def test_no_module_compares_a_route_with_one_by_name():
    named = []
    for path in sorted((ROOT / "spread").rglob("*.py")):
        file = path.relative_to(ROOT).as_posix()
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Compare) and "route" in (text := ast.unparse(node)):
                words = {part.value for part in ast.walk(node) if isinstance(part, ast.Constant)}
                if words & set(ROUTES) and not file.startswith(SAYS_ROUTES):
                    named.append(f"{file}:{node.lineno}: {text}")
    assert named == []


# -- rows that contradict themselves are refused


@pytest.mark.parametrize(
    "row",
    [
        replace(BRIEF, sensitivity=BRIEF.sensitivity[:3]),
        replace(DOG, confirmed_by="dog"),
        replace(DOG, by_eye=True),
        replace(DOG, caution=""),
        replace(INTERCEPTORS, set_up=99.0),
        replace(INTERCEPTORS, caps=(0.9,)),
    ],
)
def test_a_row_that_contradicts_itself_is_refused(row):
    with pytest.raises(AssertionError, match=row.key):
        registry.check((row,))


def test_two_rows_of_one_key_are_refused():
    with pytest.raises(AssertionError, match="dog"):
        registry.check((DOG, replace(DOG, name="Another")))


def test_what_proves_nothing_is_never_counted():
    for key, row in registry.LOOKING.items():
        assert (key in registry.UNCONFIRMED) == bool(row.hearsay or row.confirmed_by)
        if not row.proves:
            assert row.caution == "that clears nothing"
            assert key not in registry.BY_EYE
    assert {"dog", "interview"} <= set(registry.UNCONFIRMED)


# -- streams of luck


def test_every_method_draws_luck_of_its_own_and_no_two_decisions_share_any():
    names = [*DECISIONS, *(name for row in streams() for name in row)]
    assert len(names) == len(set(names)) == len(DECISIONS) + 2 * len(METHODS)
    assert apart(names)
    key = week_key(run_key(7, 3), 11)
    drawn = {uniform(key, unit, stream(name)) for name in names for unit in range(500)}
    assert len(drawn) == 500 * len(names)


def test_streams_that_lie_close_are_seen(monkeypatch):
    """Two keys a few steps of the counter apart would give neighbours each other's luck."""
    from spread.programmes import keys

    step = 0x9E3779B97F4A7C15
    made = {"a": 12345, "b": (12345 + 7 * step) % 2**64, "c": (12345 + 2 * MOST_UNITS * step) % 2**64}
    monkeypatch.setattr(keys, "stream", lambda name: np.uint64(made[name]))
    week = np.uint64(week_key(run_key(1, 1), 1))
    assert uniform(week, 9, keys.stream("a")) == uniform(week, 2, keys.stream("b"))
    assert not apart(["a", "b"])
    assert apart(["a", "c"])


def test_the_key_of_a_name_is_the_one_that_anybody_computes():
    """BLAKE2b of 8 bytes, little end first, against ``b2sum -l 64`` of coreutils."""
    assert int(stream("look:dog")).to_bytes(8, "little").hex() == B2SUM_OF_LOOK_DOG


B2SUM_OF_LOOK_DOG = "e934497bb4e462c6"

"""Some hundred changed files and requests, and phones on a bad line; all of it: ``python -m proofs.fuzz``."""

from __future__ import annotations

import os
import random
import shutil
from itertools import cycle, islice

import pytest

from proofs.crash import STORES
from proofs.fuzz import files, phones, requests
from proofs.fuzz.mutating import of_file

SEED = 20
"""Another seed than that of the whole run, whose cases are not run twice then."""


@pytest.mark.parametrize("part", [0, *(pytest.param(more, marks=pytest.mark.slow) for more in (1, 2))])
def test_changed_files_are_read_or_refused_in_words(part):
    met = files.run(60, SEED + part)
    assert met.bad == []
    kinds = {outcome.split(": ")[1] for outcome in met.outcomes}
    assert kinds == {"done", "refused"}, "some changes hurt and some do not"
    assert met.slowest < files.LONGEST


def test_changed_requests_are_answered_without_a_5xx():
    met = requests.run(400, SEED)
    assert met.bad == []
    assert met.outcomes["200"] > 100
    assert met.outcomes["400"] > 40
    assert met.slowest < requests.LONGEST


ODD = (None, True, -1, 1e300, "", "x" * 300, "\x1b[31m\u202e", [], ["101"], {}, {"a": [1]})


def parts(value, path=()):
    """Every place in JSON data, the whole itself left out."""
    for key, part in value.items() if isinstance(value, dict) else enumerate(value):
        yield (*path, key)
        if isinstance(part, dict | list):
            yield from parts(part, (*path, key))


def with_part(value, path, part):
    if not path:
        return part
    copy = dict(value) if isinstance(value, dict) else list(value)
    copy[path[0]] = with_part(copy[path[0]], path[1:], part)
    return copy


@pytest.mark.parametrize("odds", [1, pytest.param(len(ODD), marks=pytest.mark.slow)])
def test_every_part_of_every_honest_body_may_be_of_any_kind(tmp_path, odds):
    """By rote and not by chance: each part in turn, each odd value in its place; in short, one of them."""
    count, values = 0, cycle(ODD)
    with requests.listening() as heard, requests.Served(files.make_folder(tmp_path)) as served:
        client = served.app.server.test_client()
        known = requests.bodies(served)
        del known["/setup/create"], known["/programmes/start"]  # they write, and work for long
        for path, bodies in known.items():
            for body in bodies:
                for place in parts(body):
                    for odd in islice(values, odds):
                        reply = client.post(path, json=with_part(body, place, odd))
                        count += 1
                        told = f"{path} {place} {odd!r}: {heard.told}"
                        assert reply.status_code < 500, told
                        assert not heard.told, told
    assert count > 1500 * odds / len(ODD)


def test_the_fuzz_sees_what_must_not_be(monkeypatch):
    """A test that cannot fail is none: a command that trips, and an address that does, are both told."""

    def trip(*_):
        raise ZeroDivisionError

    monkeypatch.setattr("spread.commands.building.load_building", trip, raising=False)
    monkeypatch.setattr("spread.building.load_building", trip)
    outcome, _ = files.command_outcome(["check", "anywhere"])
    assert "ZeroDivisionError" in outcome
    monkeypatch.undo()
    monkeypatch.setattr("dashboard.round.together.answered_twice", trip)
    monkeypatch.setattr("dashboard.guard.addresses.answered_twice", trip)
    met = requests.run(400, SEED)
    assert any("status 500" in one for one in met.bad)
    assert any("ZeroDivisionError" in one for one in met.bad)


def test_a_case_follows_from_its_seed():
    data = files.UNITS.encode()
    made = [of_file("units.csv", data, random.Random("7")) for _ in range(2)]
    assert made[0] == made[1]
    assert len({of_file("units.csv", data, random.Random(f"{n}")) for n in range(40)}) > 30


@pytest.mark.parametrize("store", STORES)
def test_phones_on_a_bad_line_lose_and_double_nothing(store):
    if shutil.which("node") is None:
        if os.environ.get("CI"):
            pytest.fail("node is not installed, and CI is set")
        pytest.skip("node is not installed (20 or later)")
    line = phones.run(phones=6, answers=12, loss=0.3, seed=SEED, store=store)
    assert line.given == line.kept == 72
    assert (line.missing, line.doubled, line.refused, line.waiting) == (0, 0, 0, 0)
    assert line.faults == ()
    assert line.replies_lost > 0

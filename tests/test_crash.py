"""The proof of crashes in short, for every kind of store: ``python -m proofs.crash`` kills hundreds."""

from __future__ import annotations

import argparse
import os
import random
from pathlib import Path

import pytest

from proofs.crash import STORES, Place, a_home, kill_writers, made, proof

pytestmark = pytest.mark.skipif(os.name != "posix", reason="forks and kills the POSIX way")


@pytest.mark.parametrize("kind", STORES)
def test_no_acknowledged_row_is_lost_and_none_is_twice(kind):
    args = argparse.Namespace(at_once=6, rows=5, kills=6, servers=0, seed=1)
    with a_home() as home, made(kind, home) as place:
        assert proof(place, args) == []
        assert place.counts["rows of writers at once"] == 30
        assert place.counts["writers killed"] == 6
        assert place.counts["databases killed"] == (6 if kind == "postgresql" else 0)


def test_the_proof_tells_a_lost_row_and_one_that_stands_there_twice():
    with a_home() as home, made("folder", home) as place:
        kill_writers(place, 1, random.Random(1))
        assert place.faults() == []
        log = Path(place.address, "records.csv")
        lines = log.read_text().splitlines(keepends=True)
        log.write_text("".join([*lines, lines[-1]]))
        assert "1 rows stand there twice" in place.faults()
        log.write_text("".join(lines[:1] + lines[2:]))
        assert "1 acknowledged rows are lost" in place.faults()
        assert any("guard tells" in fault for fault in place.faults())


def test_a_row_that_nobody_kept_is_told_as_lost(tmp_path):
    with made("sqlite", tmp_path) as place:
        assert isinstance(place, Place)
        place.told.add("never")
        assert place.faults() == ["1 acknowledged rows are lost"]

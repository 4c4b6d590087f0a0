"""What an answer costs in a long log: the row on the disk, the chances, and the doors ranked anew.

Two copies of one demo building, one with years of older rows in every unit; measured turn about, as a ratio.
``pytest benchmarks/test_log_speed.py --benchmark-enable`` prints the times.
"""

from __future__ import annotations

import datetime as dt
import shutil
import time
from pathlib import Path
from statistics import median

import pytest

from spread.posterior.fit import FitSettings
from spread.records.cells import to_fields, to_line
from spread.records.folder import FolderStore
from spread.records.kinds import Record
from spread.session import Session

DEMO = Path(__file__).resolve().parents[1] / "demo_buildings" / "ostrel-court"
ON = dt.date(2026, 11, 20)
MANY = 100_000
QUICK = FitSettings(chains=2, warmup=20, sweeps=40, most_sweeps=40)


def older(units, rows):
    """Yield rows of every kind over the ten years before the demo's first row."""
    kinds = (
        {"kind": "inspection", "method": "brief-visual", "found": "no"},
        {"kind": "no-access"},
        {"kind": "monitor", "method": "interceptors", "found": "no", "days": 14},
        {"kind": "report", "found": "yes"},
        {"kind": "inspection", "method": "thorough-visual", "found": "yes", "level": "low"},
        {"kind": "treatment", "method": "whole-room-heat"},
        {"kind": "inspection", "method": "thorough-visual", "found": "no"},
        {"kind": "turnover"},
    )
    for i in range(rows):
        day = dt.date(2015, 1, 1) + dt.timedelta(days=3650 * i // rows)
        yield Record(f"old-{i}", day, units[i % len(units)], **kinds[i // len(units) % len(kinds)])


@pytest.fixture(scope="module")
def folders(tmp_path_factory):
    """The demo as it is, and with its log made long."""
    made = []
    for name in ("short", "long"):
        folder = tmp_path_factory.mktemp("log") / name
        shutil.copytree(DEMO, folder, ignore=shutil.ignore_patterns("*.known", "*.lock"))
        made.append(folder)
    log = made[1] / "records.csv"
    text = log.read_text()
    columns = text.split("\n", 1)[0].split(",")
    units = sorted({line.split(",")[2] for line in text.splitlines()[1:]})
    rows = older(units, MANY - text.count("\n") + 1)
    log.write_text(text + "".join(to_line(to_fields(row), columns) for row in rows))
    return units, made


def turn_about(work, repeats=31):
    """Return the median seconds of each piece of work, done in turn so that all share the machine's moods."""
    times = [[] for _ in work]
    for _ in range(repeats):
        for one, kept in zip(work, times, strict=True):
            began = time.perf_counter()
            one()
            kept.append(time.perf_counter() - began)
    return [median(kept[1:]) for kept in times]


def counted(prefix):
    number = 0
    while True:
        number += 1
        yield f"{prefix}-{number}"


def test_a_row_costs_no_more_in_a_long_log(benchmark, folders):
    units, made = folders
    stores = [FolderStore(folder / "records.csv", units) for folder in made]
    ids = counted("appended")

    def appends(store):
        return lambda: store.append(Record(next(ids), ON, units[0], "report"))

    short, long = turn_about([appends(store) for store in stores])
    print(f"\nappend: {1000 * short:.2f} ms at {len(stores[0].log)} rows, {1000 * long:.2f} ms at {MANY:,}")
    benchmark.pedantic(appends(stores[1]), rounds=20)
    assert long < 2 * short


def test_an_answer_costs_no_more_in_a_long_log(benchmark, folders, monkeypatch):
    monkeypatch.setattr(
        Session, "_fit_when_needed", lambda _: None
    )  # a fit runs behind, and is not waited for
    units, made = folders
    sessions = [Session.open(folder, on=ON, settings=QUICK) for folder in made]
    turns = [0]

    def answers(session):
        def answer():
            turns[0] += 1
            session.record({"unit": units[turns[0] % len(units)], "kind": "inspection",
                            "method": "brief-visual", "found": "no"})  # fmt: skip
            return session.doors()

        return answer

    short, long = turn_about([answers(session) for session in sessions])
    rows = len(sessions[0].view.log)
    print(f"\nanswer: {1000 * short:.1f} ms at {rows} rows, {1000 * long:.1f} ms at {MANY:,}")
    benchmark.pedantic(answers(sessions[1]), rounds=10)
    assert long < 2 * short

"""The phone's word on a running heat job is the server's: one judge in two languages, over many logs.

A phone in a basement has no server to ask, so that ``dashboard/round/heat.js`` works the same rules out. Here
node and ``spread.trade.probes`` judge the same logs, whole and as they grow, and every kind of broken log.
"""

from __future__ import annotations

import json
import random

import pytest
from probe_logs import heated, job
from test_probe_log import BROKEN
from test_scripts import HERE, node

from dashboard.round.room_answers import heat_of
from spread.records.jobs import job_problems, job_text, read_job
from spread.records.kinds import Job, Probe
from spread.trade.credit import celsius_of
from spread.trade.probes import doubts_of, in_the_air, live_rules, longest_hold, probes_credit, probes_needed

HEAT = (HERE / "round" / "heat.js").as_uri()
PLACES = ("mattress", "sofa", "baseboard", "room_air", "Ceiling 2", "armchair", "wall outlet")


def on_the_phone(logs, rooms):
    """What the phone says of each log."""
    sent = json.dumps([[list(log.items()), number] for log, number in zip(logs, rooms, strict=True)])
    script = f"""
import {{ earliest, holds, judged }} from "{HEAT}";
const rules = {json.dumps(live_rules())};
const logs = {sent};
const held = (probes) => probes.map(([, readings]) => holds(readings, rules.least, rules).longest);
console.log(JSON.stringify(logs.map(([probes, rooms]) => (
  {{ ...judged(probes, rules, rooms), wait: earliest(probes, rules), held: held(probes) }}))));
"""
    return json.loads(node("--input-type=module", given=script))


def as_said(doubts):
    return [
        [one.kind, one.probe, one.minute, pytest.approx(one.value, rel=1e-12), one.limit, one.other]
        for one in doubts
    ]


def spoiled(luck):
    """A log with one to three faults of random kinds, places and sizes; some are none in the end."""
    count = luck.randint(1, 5)
    top, step = luck.uniform(30.0, 60.0), luck.choice([1, 2, 5, 10])
    log = {
        name: heated(
            top + luck.uniform(-3, 3), seed=luck.randrange(10**6), step=step, hold=luck.randint(0, 130),
            start=luck.uniform(10, 45), rise=luck.uniform(0.05, 0.7), digits=luck.choice([0, 1, 2]),
        )
        for name in luck.sample(PLACES, count)
    }  # fmt: skip
    for _ in range(luck.randint(0, 3)):
        name = luck.choice(list(log))
        readings = list(log[name])
        at, long = luck.randrange(len(readings)), luck.randint(1, 15)
        match luck.randrange(7):
            case 0:
                readings[at] = (readings[at][0], luck.uniform(-20, 120))
            case 1:
                del readings[at : at + long]
            case 2:
                readings = [(m, readings[at][1] if k > at else c) for k, (m, c) in enumerate(readings)]
            case 3:
                readings = [(m, c + luck.uniform(-9, 9) if k % 2 else c) for k, (m, c) in enumerate(readings)]
            case 4:
                readings = [(m + 20.0, c) for m, c in readings]
            case 5:
                readings = [(m, round(c, 1) + 0.7) for m, c in log[luck.choice(list(log))]]
            case 6:
                readings = readings[at:]
        log[name] = readings or [(0.0, 20.0)]
    return log


def test_phone_and_server_judge_alike_over_many_logs():
    luck = random.Random(16)
    logs = [spoiled(luck) for _ in range(1500)]
    logs += [job(luck.uniform(47.0, 58.0), seed=seed, step=luck.choice([1, 2, 5])) for seed in range(200)]
    rooms = [luck.choice([1, 1, 1, 2, 4]) for _ in logs]
    given = 0
    for log, number, told in zip(logs, rooms, on_the_phone(logs, rooms), strict=True):
        verdict = probes_credit(log, rooms=number)
        assert told["given"] == verdict.given
        alone = {name: probes_credit({name: readings}).why for name, readings in log.items()}
        short = [name for name, why in alone.items() if why not in ("met", "doubtful")]
        assert told["short"] == short
        doubts = [list(one.values()) for one in told["doubts"]]
        assert doubts == as_said(doubts_of(log, rooms=number))
        assert told["held"] == [longest_hold(readings, 48.0, least=3) for readings in log.values()]
        given += verdict.given
    assert 80 < given < len(logs) - 1000, "both answers are tried"


def test_never_may_the_heat_end_on_a_broken_log():
    logs = [fault(job()) for fault in BROKEN.values()]
    assert len(logs) >= 40
    assert [told["given"] for told in on_the_phone(logs, [1] * len(logs))] == [False] * len(logs)
    assert on_the_phone([job()], [1])[0]["given"]


def test_while_a_job_runs_the_phone_waits_as_long_as_the_server_would_and_says_how_long():
    """As the log grows: never ended before a published row is met by every probe, and then at once."""
    whole = job(49.0)
    end = max(readings[-1][0] for readings in whole.values())
    grown = [
        {name: [r for r in readings if r[0] <= minute] for name, readings in whole.items()}
        for minute in range(0, int(end) + 1, 6)
    ]
    told = on_the_phone(grown, [1] * len(grown))
    assert [one["given"] for one in told] == [probes_credit(log).given for log in grown]
    first = next(i for i, one in enumerate(told) if one["given"])
    assert 0 < first < len(told), "it is given within the job"
    hold = {name: longest_hold(log, 48.0, least=3) for name, log in grown[first].items()}
    assert all(minutes >= 71.5 for minutes in hold.values()), hold
    waits = [one["wait"] for one in told]
    assert waits[0] is None, "nothing is hot yet: nobody can say"
    assert waits[first] == 0
    left = [wait for wait in waits[:first] if wait is not None]
    assert left == sorted(left, reverse=True)
    assert max(left) <= 72.0


def test_no_probe_and_a_probe_without_readings_never_end_the_heat():
    nothing, empty = on_the_phone([{}, {**job(), "bed": []}], [1, 1])
    assert (nothing["given"], empty["given"], empty["short"]) == (False, False, ["bed"])


def test_degrees_places_and_pasted_lines_are_read_alike():
    lines = {
        "14:05 48.2\n14:10\t48,4\n14:15:30;48.6": [[0, 48.2], [5, 48.4], [10.5, 48.6]],
        "0 21.5\n\n2.5, 22\n4 -3.5 C": [[0, 21.5], [2.5, 22.0], [4, -3.5]],
        "2026-11-20 23:58:00 50\n2026-11-21 00:03:00 51": [[0, 50.0], [5, 51.0]],
        "23:58 50\n00:03 51": [[0, 50.0], [5, 51.0]],
        "14:05 48.2\n14:05 48.3": 2,
        "14:05 48.2\n14:04 48.3": 2,
        "14:05 48.2\nOPEN": 2,
        "14:05 48.2 48.3": 1,
        "25:05 48.2": 1,
        "14:05 4,8.2": 1,
        "14:05 nan": 1,
        "14:05": 1,
    }
    script = f"""
import {{ celsiusOf, inTheAir, needed, readLines }} from "{HEAT}";
const rules = {json.dumps(live_rules())};
const now = new Date(2026, 10, 21, 15, 0).getTime(), night = new Date(2026, 10, 21, 0, 4).getTime();
console.log(JSON.stringify([
  {json.dumps([1184 / 10 + k / 10 for k in range(-900, 900)])}.map(celsiusOf),
  {json.dumps(PLACES)}.map((place) => inTheAir(place, rules)),
  [0, 1, 2, 7].map((rooms) => needed(rooms, rules)),
  {json.dumps(list(lines))}.map((text) => readLines(text, false, 0, text.startsWith("23") ? night : now)),
  readLines("14:05 118.4", true, 0, now),
]));
"""
    degrees, air, needs, read, warm = json.loads(node("--input-type=module", given=script))
    assert degrees == [celsius_of(1184 / 10 + k / 10) for k in range(-900, 900)]
    assert air == [in_the_air(place) for place in PLACES]
    assert needs == [probes_needed(rooms) for rooms in (0, 1, 2, 7)]
    assert [one.get("wrong") or one["readings"] for one in read] == list(lines.values())
    assert warm["readings"] == [[0, 48.0]]


def test_the_readings_are_kept_with_the_treatment_to_the_last_digit():
    probes = {name: [(m, celsius_of(c * 9 / 5 + 32)) for m, c in log] for name, log in job(53.3).items()}
    sent = {
        "rooms": 2,
        "probes": [{"place": name, "readings": [list(r) for r in log]} for name, log in probes.items()],
    }
    kept = Job(**heat_of(json.loads(json.dumps(sent))))
    assert job_problems(kept) == []
    assert read_job(job_text(kept)) == kept
    assert kept.rooms == 2
    assert probes_credit({one.place: one.readings for one in kept.heat}) == probes_credit(
        {name: tuple(log) for name, log in probes.items()}
    )


@pytest.mark.parametrize(
    "probe",
    [
        Probe("sofa", ()),
        Probe("sofa", ((4.0, 50.0), (4.0, 51.0))),
        Probe("sofa", ((4.0, 50.0), (2.0, 51.0))),
        Probe("sofa", ((4.0, 999.0),)),
        Probe("sofa", ((4.0, float("nan")),)),
        Probe("", ((4.0, 50.0),)),
        Probe("so;fa", ((4.0, 50.0),)),
        Probe("sofa", tuple((float(m), 50.0) for m in range(3001))),
    ],
)
def test_readings_that_cannot_be_are_refused_and_never_kept_in_part(probe):
    assert job_problems(Job(heat=(probe,)))
    assert job_problems(Job(heat=(Probe("bed", ((0.0, 20.0),)), probe)))

"""A good log of a heat job is credited; no broken one is, however it is broken.

The holds: 48 C for 71.5 minutes and 54.8 C for a moment kill 99 % of eggs, 45 C for 94.8 minutes 99 % of
adults and eggs live through 7 hours of it (Kells and Goblirsch 2011, doi 10.3390/insects2030412; check
values 10 and 11 of the facts page are the same figures). What a probe can do is judgement, said so in
``spread/trade/probes.py``.
"""

import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from probe_logs import heated, job, log_text

from spread.cli import main
from spread.errors import RecordError
from spread.records.probes import parse_probes
from spread.trade.credit import Doubt
from spread.trade.probes import FIRST_ROOM, doubts_of, in_the_air, longest_hold, probes_credit, probes_needed
from spread.words import ENGLISH, Voice, say

F = 9 / 5


def each(change):
    """A fault of every probe."""
    return lambda logs: {name: change(readings) for name, readings in logs.items()}


def one(change, name="sofa"):
    """A fault of one probe."""
    return lambda logs: {**logs, name: change(logs[name])}


def at(readings, part):
    return round((len(readings) - 1) * part)


def swapped(part, celsius, count=1):
    """Some readings in the place of what was read."""

    def change(readings):
        i = at(readings, part)
        return [(m, celsius if i <= k < i + count else c) for k, (m, c) in enumerate(readings)]

    return change


def air_from(part, celsius, wobble=0.4):
    """The probe falls into the air stream and stays there."""

    def change(readings):
        i = at(readings, part)
        return [(m, c if k < i else celsius + wobble * (k % 3)) for k, (m, c) in enumerate(readings)]

    return change


def stuck_from(part):
    def change(readings):
        i = at(readings, part)
        return [(m, c if k < i else readings[i][1]) for k, (m, c) in enumerate(readings)]

    return change


def cut(first, last, step=1):
    return lambda readings: readings[at(readings, first) : at(readings, last) + 1 : step]


def without(first, last):
    return lambda r: [*r[: at(r, first)], *r[at(r, last) :]]


def timed(factor):
    return each(lambda r: [(m * factor, c) for m, c in r])


def in_f(readings):
    return [(m, c * F + 32) for m, c in readings]


def cold(top=30.0):
    """A log in which nothing was ever hot enough."""
    return {name: heated(top, seed=i + 3) for i, name in enumerate(("mattress", "sofa", "baseboard"))}


def shifted(readings):
    return [(m, round(c + 0.7, 1)) for m, c in readings]


def renamed(*places):
    return lambda logs: dict(zip(places, logs.values(), strict=True))


def on(logs, fault):
    return lambda _: fault(logs)


BROKEN = {
    "all in degrees F under celsius": each(in_f),
    "a cool job in degrees F under celsius": on(cold(), each(in_f)),
    "a barely warm job in degrees F": on(cold(22.0), each(in_f)),
    "one probe in degrees F": one(in_f),
    "one cold probe in degrees F": on({**job(), "sofa": heated(24.0)}, one(in_f)),
    "degrees F from the middle on": one(lambda r: [*r[:80], *in_f(r[80:])]),
    "degrees C under fahrenheit": each(lambda r: [(m, (c - 32) / F) for m, c in r]),
    "kelvin": each(lambda r: [(m, c + 273.15) for m, c in r]),
    "ten times too much": each(lambda r: [(m, c * 10) for m, c in r]),
    "one 55.0 in a log of 30": on(cold(), one(swapped(0.6, 55.0))),
    "every probe with one 55.0 in a log of 30": on(cold(), each(swapped(0.6, 55.0))),
    "three 55.0 in a log of 30": on(cold(), each(swapped(0.6, 55.0, 3))),
    "a spark in the hold": one(swapped(0.8, 66.0)),
    "one 99.9": one(swapped(0.5, 99.9)),
    "one 99.9 in a cold log": on(cold(), each(swapped(0.5, 99.9))),
    "three 99.9 in a cold log": on(cold(), each(swapped(0.5, 99.9, 3))),
    "85.0, as a sensor says that it has just been switched on": one(swapped(0.0, 85.0)),
    "85.0 in the middle": one(swapped(0.5, 85.0, 3)),
    "a drop to 0.0 while it warms": one(swapped(0.3, 0.0)),
    "a drop to 0.0 in the hold": one(swapped(0.75, 0.0)),
    "-40 in the hold": one(swapped(0.75, -40.0)),
    "falls into the air, 40 to 62": on(cold(40.0), one(air_from(0.5, 62.0))),
    "every probe falls into the air": on(cold(40.0), each(air_from(0.4, 57.0))),
    "falls into the air within the hold": one(air_from(0.8, 62.0)),
    "is put back out of the air": one(swapped(0.45, 60.0, 6)),
    "in the air from the start": each(lambda r: heated(58.0, rise=1.2, seed=len(r))),
    "one in the air from the start": one(lambda r: heated(58.0, rise=1.5)),
    "rises like a kettle": one(lambda r: heated(52.0, rise=3.0)),
    "rises too fast for furniture": one(lambda r: heated(52.0, rise=0.8)),
    "a single reading a probe": each(lambda r: [(0.0, 56.0)]),
    "one probe with a single reading": one(lambda r: [(0.0, 56.0)]),
    "two readings a probe": each(lambda r: [(0.0, 56.0), (5.0, 56.2)]),
    "three hot readings and no more": each(lambda r: [(0.0, 56.0), (1.0, 56.1), (2.0, 56.3)]),
    "first and last reading": each(lambda r: [r[0], r[-1]]),
    "a reading an hour": each(cut(0, 1, 30)),
    "a gap while it warms": one(without(0.2, 0.5)),
    "a gap in the hold": one(without(0.7, 0.9)),
    "a gap over the whole rise": one(without(0.03, 0.62)),
    "one and the same all along": each(lambda r: [(m, 52.0) for m, _ in r]),
    "one probe the same all along": one(lambda r: [(m, 52.0) for m, _ in r]),
    "stuck when it got hot": one(stuck_from(0.65)),
    "stuck within the hold": one(stuck_from(0.75)),
    "stuck at 55 on the way up": on({**job(top=56.0)}, each(lambda r: [(m, min(c, 55.0)) for m, c in r])),
    "begins when it is hot already": each(cut(0.65, 1)),
    "one begins when it is hot already": one(cut(0.65, 1)),
    "one begins late": one(lambda r: [(m + 40, c) for m, c in r]),
    "one probe alone": lambda logs: {"sofa": logs["sofa"]},
    "two probes": lambda logs: {name: logs[name] for name in ("sofa", "mattress")},
    "in the air alone": lambda logs: {f"air {name}": r for name, r in logs.items()},
    "two of them in the air": renamed("sofa", "room_air", "Ceiling 2"),
    "two places and the supply duct": renamed("sofa", "bed", "supply"),
    "one probe copied to all": lambda logs: dict.fromkeys(logs, logs["sofa"]),
    "one probe copied to another": lambda logs: {**logs, "baseboard": logs["sofa"]},
    "one probe copied and shifted": lambda logs: {**logs, "bed": shifted(logs["sofa"])},
    "a loose plug": one(lambda r: [(m, c + (2.2 if k % 2 else 0.0)) for k, (m, c) in enumerate(r)]),
    "a wild plug": one(lambda r: [(m, c + (9.0 if k % 3 == 1 else 0.0)) for k, (m, c) in enumerate(r)]),
    "seconds under minute": timed(60.0),
    "hours under minute": timed(1 / 60),
    "a tenth of the time": timed(0.1),
    "one probe that never warmed": one(lambda r: [(m, 21.0 + (k % 5) / 10) for k, (m, _) in enumerate(r)]),
    "one probe a degree short": one(lambda r: heated(47.0)),
    "ten minutes short": each(lambda r: heated(48.1, hold=61)),
    "a dip below in the hold": lambda logs: {**logs, "sofa": swapped(0.78, 47.5)(heated(48.2, hold=110))},
    "eggs are asked for and it held 45": on(cold(45.2), lambda logs: logs),
}  # fmt: skip


@pytest.mark.parametrize("fault", BROKEN.values(), ids=BROKEN)
def test_no_broken_log_is_credited(fault):
    verdict = probes_credit(fault(job()))
    assert not verdict.given
    for voice in (ENGLISH, Voice("es")):
        assert not say(verdict, voice).startswith(("Every", "Credited", "Cada", "Acreditad"))
    assert "Not credited" in say(verdict, ENGLISH)


def test_there_are_forty_kinds_of_fault_and_each_was_a_good_log_before():
    assert len(BROKEN) >= 40
    assert probes_credit(job()).given


@pytest.mark.parametrize("stages", ["all", "adults"])
@settings(max_examples=80, deadline=None)
@given(
    seed=st.integers(0, 10_000),
    top=st.floats(48.5, 60.0),
    step=st.sampled_from([1, 2, 5, 10]),
    hold=st.integers(100, 240),
    start=st.floats(12.0, 28.0),
    digits=st.sampled_from([1, 2]),
)
def test_a_good_log_is_credited(stages, seed, top, step, hold, start, digits):
    logs = job(top, seed=seed, step=step, hold=hold, start=start, digits=digits)
    assert probes_credit(logs, stages).given, [say(doubt, ENGLISH) for doubt in probes_credit(logs).doubts]


@settings(max_examples=150, deadline=None)
@given(
    seed=st.integers(0, 10_000),
    top=st.floats(22.0, 44.0),
    step=st.sampled_from([1, 2, 5, 10]),
    part=st.floats(0.05, 0.95),
    height=st.floats(48.5, 130.0),
    count=st.integers(1, 40),
)
def test_no_spark_however_long_or_high_credits_a_log_that_was_never_hot(seed, top, step, part, height, count):
    logs = {name: heated(top, seed=seed + i, step=step) for i, name in enumerate(("bed", "sofa", "wall"))}
    assert not probes_credit(each(swapped(part, height, count))(logs), "adults").given


@settings(max_examples=100, deadline=None)
@given(
    seed=st.integers(0, 10_000),
    part=st.floats(0.05, 0.9),
    up=st.floats(11.0, 30.0),
    top=st.floats(30.0, 44.0),
    step=st.sampled_from([1, 2, 5, 10]),
)
def test_a_probe_that_falls_into_the_air_never_credits(seed, part, up, top, step):
    logs = {name: heated(top, seed=seed + i, step=step) for i, name in enumerate(("bed", "sofa", "wall"))}
    fallen = each(lambda r: [(m, c if k < at(r, part) else c + up) for k, (m, c) in enumerate(r)])(logs)
    assert not probes_credit(fallen, "adults").given


@settings(max_examples=100, deadline=None)
@given(seed=st.integers(0, 10_000), start=st.floats(8.0, 30.0), top=st.floats(8.0, 62.0))
def test_a_log_in_degrees_f_under_celsius_is_never_credited(seed, start, top):
    logs = {
        name: heated(top, seed=seed + i, start=min(start, top))
        for i, name in enumerate(("bed", "sofa", "wall"))
    }
    assert not probes_credit(each(in_f)(logs), "adults").given


@settings(max_examples=100, deadline=None)
@given(st.sampled_from([44.0, 47.5, 48.3, 56.0]), st.integers(0, 999), st.floats(0.0, 0.9))
def test_readings_that_are_taken_away_never_earn_a_credit(top, seed, share):
    """A log with holes is credited only where the whole log is."""
    logs, luck = job(top, seed=seed, step=5), random.Random(seed)
    kept = {
        name: [r for r in readings if luck.random() > share] or readings[:1]
        for name, readings in logs.items()
    }
    assert probes_credit(logs).given or not probes_credit(kept).given


def test_a_moment_takes_three_readings_in_a_row():
    """54.8 C kills eggs in a ramp (Kells and Goblirsch 2011), which one reading does not show."""
    hot = heated(56.0, hold=0)
    hot = [*hot, *((hot[-1][0] + 2 * k, 56.0 + k / 10) for k in range(1, 4))]
    tops = [c for _, c in hot if c >= 55.0]
    assert len(tops) >= 3
    assert longest_hold(hot, 55.0, least=3) is not None
    assert longest_hold(hot[: len(hot) - len(tops) + 2], 55.0, least=3) is None
    logs = {**job(), "sofa": hot}
    assert probes_credit(logs).given
    assert not probes_credit({**logs, "sofa": hot[: len(hot) - len(tops) + 2]}).given
    spark = swapped(0.9, 56.0)(heated(30.0))
    said = say(probes_credit({**logs, "sofa": spark}), ENGLISH)
    assert "was read for a moment; it takes 3 readings in a row" in said


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("sofa,4,50\nsofa,4,51\n", "minute 4 of probe sofa comes after minute 4"),
        ("sofa,4,50\nsofa,2,51\n", "minute 2 of probe sofa comes after minute 4"),
        ("sofa,4,\n", "field 'celsius': it is empty"),
        ("sofa,4,OPEN\n", "'OPEN', expected a number"),
        ("sofa,12:30,50\n", "'12:30', expected a number"),
        ("sofa,4,nan\n", "'nan', expected a number"),
        ("sofa,4,-127\n", "expected -60 to 150 C"),
        ("sofa,4,999\n", "expected -60 to 150 C"),
        ("sofa;4;50\n", "field 'minute': it is empty"),
        ("sofa,4,\"50,5\"\n", "'50,5', expected a number"),
    ],
)  # fmt: skip
def test_what_cannot_be_read_is_refused_with_its_line(text, words):
    with pytest.raises(RecordError, match="line") as problem:
        parse_probes("probe,minute,celsius\n" + text)
    assert words in str(problem.value)


def test_the_five_logs_that_were_credited_once_are_not(tmp_path, capsys):
    for name in (
        "all in degrees F under celsius", "one 55.0 in a log of 30", "one 99.9 in a cold log",
        "falls into the air, 40 to 62", "a single reading a probe",
    ):  # fmt: skip
        path = tmp_path / "log.csv"
        path.write_text(log_text(BROKEN[name](job())), encoding="utf-8")
        assert main(["credit", "heat", "--probes", str(path)]) == 0
        assert "Not credited" in capsys.readouterr().out, name
    path.write_text(log_text(job()), encoding="utf-8")
    assert main(["credit", "heat", "--probes", str(path)]) == 0
    assert "Every probe: Credited" in capsys.readouterr().out


def test_a_doubt_says_which_probe_and_when_and_asks():
    fallen = probes_credit(BROKEN["falls into the air within the hold"](job()))
    assert fallen.why == "doubtful"
    jump = next(doubt for doubt in fallen.doubts if doubt.kind == "jump")
    assert (jump.probe, jump.value > 5) == ("sofa", True)
    assert f"Probe sofa jumps by {round(jump.value, 1):g} C at minute {jump.minute:g}" in say(jump, ENGLISH)
    few = probes_credit(BROKEN["two probes"](job())).doubts
    assert few == (Doubt("few-probes", value=2, limit=FIRST_ROOM),)
    assert probes_needed(1) < probes_needed(2) < probes_needed(3)
    assert not probes_credit(job(), rooms=2).given


@pytest.mark.parametrize(
    ("place", "air"),
    [("air", True), ("room_air", True), ("Ceiling 2", True), ("heater outlet", True), ("aire", True),
     ("chair", False), ("wall outlet", False), ("armchair", False), ("mattress", False),
     ("fancy rug", False)],
)  # fmt: skip
def test_a_place_in_the_air_is_known_by_its_name(place, air):
    assert in_the_air(place) is air


def test_opening_the_windows_after_the_hold_takes_no_credit_away():
    cooling = job()
    for readings in cooling.values():
        minute, celsius = readings[-1]
        readings += [(minute + 2 * k, max(celsius - 9.0 * k, 15.0)) for k in range(1, 8)]
    assert probes_credit(cooling).given
    assert list(doubts_of(cooling)) == []

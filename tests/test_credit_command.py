"""The command ``credit``: published rows decide, the coldest probe counts, bad input is one sentence.

Temperatures and times of the rows: Kells and Goblirsch 2011 (doi 10.3390/insects2030412), Olson et al. 2013,
Naylor and Boase 2010; the facts page's check values 10 to 13.
"""

import json
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st
from probe_logs import heated, job, log_text

from spread.cli import main
from spread.errors import RecordError
from spread.records.probes import parse_probes
from spread.tables.loggers import read_probe_log
from spread.trade.probes import probes_credit
from spread.words import ENGLISH, say


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("heat --temperature 48 --minutes 72", "Credited: 48 C (118 F) for 72 minutes"),
        ("heat --temperature 48 --hours 1.2", "Credited: 48 C (118 F) for 72 minutes"),
        ("heat --temperature 118.4 --minutes 71 --fahrenheit", "Not credited: 48 C (118 F) for 71 minutes"),
        ("heat --temperature 45 --minutes 95", "enough for adults and not for eggs"),
        ("heat --temperature 45 --minutes 95 --stages adults", "Credited: 45 C"),
        ("cold --temperature -18 --hours 96", "Credited: -18 C (0 F) for 96 hours"),
        ("cold --temperature 0 --fahrenheit --hours 79", "Not credited: -17.8 C (0 F) for 79 hours"),
        ("wash --temperature 60", "Credited"),
        ("wash --temperature 40", "may leave eggs alive"),
        ("dry --temperature 50 --minutes 30", "Credited"),
        ("soak", "leaves eggs alive"),
        ("steam --temperature 72", "the visit again stands"),
    ],
)
def test_a_hold_meets_a_published_row_or_does_not_and_never_clears(line, words, capsys):
    assert main(["credit", *line.split()]) == 0
    out = capsys.readouterr().out
    assert words in out
    assert "never clears a unit" in out


def probes(tmp_path, text):
    path = tmp_path / "probes.csv"
    path.write_text(text, encoding="utf-8")
    return path


def test_the_coldest_probe_decides_whatever_the_others_say(tmp_path, capsys):
    logs = job(top=57.0)
    path = probes(tmp_path, log_text({**logs, "B": heated(47.1, seed=8)}))
    assert main(["credit", "heat", "--probes", str(path), "--json"]) == 0
    data = json.loads(capsys.readouterr().out)
    assert data["given"] is False
    assert data["words"].startswith("Probe B decides. Not credited")
    path = probes(tmp_path, log_text({**logs, "B": heated(48.6, seed=8, hold=96)}))
    assert main(["credit", "heat", "--probes", str(path)]) == 0
    assert re.match(r"Every probe: Credited: 48 C \(118 F\) for \d+ minutes", capsys.readouterr().out)
    assert main(["credit", "heat", "--probes", str(path), "--rooms", "3", "--json"]) == 0
    data = json.loads(capsys.readouterr().out)
    assert data["given"] is False, "four probes are too few for three rooms"
    assert "4 probes lay where bugs hide, and it takes 7" in data["words"]


def test_a_hold_broken_by_readings_far_apart_says_so():
    hourly = [(0.0, 48.0), (60.0, 50.0), (120.0, 50.0)]
    quarterly = [(minute / 4, celsius) for minute, celsius in hourly]
    assert "apart" not in say(probes_credit({"wall": quarterly}), ENGLISH), (
        "too short, and nothing was broken"
    )
    verdict = probes_credit({"wall": hourly})
    assert not verdict.given
    assert "readings are up to 60 minutes apart: a gap of more than 15 minutes breaks a hold" in say(
        verdict, ENGLISH
    )
    close = [(float(minute), celsius) for minute, celsius in heated(48.5, step=15)]
    assert probes_credit({**job(), "wall": close}).given


def test_degrees_f_are_read_by_their_column(tmp_path):
    path = probes(tmp_path, "\ufeffProbe,Minute,Fahrenheit\nsofa,0,118.4\n\nsofa,5,122\n")
    assert read_probe_log(path).readings == {"sofa": [(0.0, 48.0), (5.0, 50.0)]}, (
        "a millionth less would miss its row"
    )


@given(
    st.dictionaries(
        st.sampled_from("ABC"),
        st.lists(st.tuples(st.integers(1, 20), st.integers(30, 60)), min_size=1, max_size=30),
        min_size=1,
    ),
    st.integers(1, 5),
)
def test_a_colder_probe_more_never_earns_a_credit(steps, colder):
    readings = {}
    for name, pairs in steps.items():
        minute, readings[name] = 0, []
        for step, celsius in pairs:
            minute += step
            readings[name].append((float(minute), float(celsius)))
    before = probes_credit(readings)
    first = next(iter(readings.values()))
    after = probes_credit({**readings, "cold": [(minute, celsius - colder) for minute, celsius in first]})
    assert not (after.given and not before.given)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "line 1: it has no column 'probe'; begin with the header"),
        ("probe,minute\nA,1\n", "line 1: it has no columns of degrees"),
        ("probe,minute,celsius,fahrenheit\n", "line 1: it has 2 columns of degrees"),
        ("probe,minute,celsius\n", "it has no reading"),
        ("probe,minute,celsius\n,1,50\n", "line 2, field 'probe': it is empty"),
        ("probe,minute,celsius\nA,soon,50\n", "line 2, field 'minute': 'soon', expected a number"),
        ("probe,minute,celsius\nA,1,\n", "line 2, field 'celsius': it is empty, expected a number"),
        ("probe,minute,celsius\nA,1,inf\n", "line 2, field 'celsius': 'inf', expected a number"),
        ("probe,minute,celsius\nA,1,400\n", "400 is 400 C, expected -60 to 150 C"),
        ("probe,minute,celsius\nA,2,50\nA,1,50\n", "line 3, field 'minute': minute 1 of probe A comes after"),
    ],
)
def test_a_probe_log_that_cannot_be_read_says_where(text, words):
    with pytest.raises(RecordError) as problem:
        parse_probes(text)
    assert words in str(problem.value)


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("heat", "--temperature: heat needs it"),
        ("heat --temperature 50", "--minutes: heat needs it"),
        ("cold --temperature -20", "--hours: cold needs it"),
        ("heat --temperature 50 --minutes 5 --hours 1", "--hours: --minutes is given too"),
        ("heat --temperature 50 --minutes -1", "--minutes: expected a time of 0 or more"),
        ("heat --temperature nan --minutes 1", "--temperature: it is not a number"),
        ("heat --temperature warm --minutes 1", "'warm' is not a number"),
        ("heat --temperature 50 --minutes 90 --rooms 2", "--rooms: it goes with --probes only"),
        ("heat --probes x.csv --rooms 0", "--rooms: expected 1 to 30"),
        ("wash --probes x.csv", "--probes: it goes with heat only"),
        (
            "heat --probes x.csv --fahrenheit",
            "--fahrenheit: name the log's column fahrenheit, or say --scale F",
        ),
        (
            "heat --temperature 122 --minutes 90",
            "it is 122 C, expected at most 100; add --fahrenheit",
        ),
        ("wash --temperature 140", "--temperature: it is 140 C, expected at most 100; add --fahrenheit"),
        ("steam --temperature 180", "--temperature: it is 180 C, expected at most 120; add --fahrenheit"),
        ("heat --probes x.csv --minutes 3", "--probes: it has the temperatures and times"),
        ("heat --probes nowhere.csv", "nowhere.csv: it cannot be read"),
        ("iron", "invalid choice"),
    ],
)
def test_bad_input_is_one_sentence_and_exit_2(line, words, capsys):
    assert main(["credit", *line.split()]) == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert words in said.err
    assert said.err.count("\n") == 1

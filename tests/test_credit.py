"""Heat, cold, laundry and steam: what is credited and what is not, row by row.

Expected answers are check values 10 to 13 of the project's facts page, from Kells and Goblirsch 2011
(doi 10.3390/insects2030412: adults 94.8 minutes at 45 C, eggs alive after 7 hours at 45 C, 71.5 minutes at
48 C, 54.8 C in a ramp), Olson et al. 2013 (doi 10.1603/EC13032) and Naylor and Boase 2010
(doi 10.1603/EC09288).
"""

import itertools
import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from spread.trade import holds
from spread.trade.credit import (
    cold_credit,
    fahrenheit,
    heat_credit,
    laundry_credit,
    longest_hold,
    probes_credit,
    steam_credit,
)
from spread.trade.sources import CONFIDENCES

ROWS = (*holds.HEAT, *holds.COLD, *itertools.chain(*holds.LAUNDRY.values()), holds.STEAM)


@pytest.mark.parametrize(
    ("celsius", "expected"), [(45, 113.0), (48, 118.4), (48.3, 118.9), (50, 122.0), (54.8, 130.6)]
)
def test_degrees_fahrenheit_are_right(celsius, expected):  # check value 10
    assert fahrenheit(celsius) == pytest.approx(expected, abs=0.1)


@pytest.mark.parametrize(
    ("celsius", "minutes", "stages", "given"),
    [
        (45, 94, "adults", False),
        (45, 95, "adults", True),
        (45, 420, "all", False),
        (48, 71, "all", False),
        (48, 72, "all", True),
        (55, 0, "all", True),
        (44, 10_000, "all", False),
        (44, 10_000, "adults", False),
    ],
)
def test_heat_is_credited_by_its_rows_alone(celsius, minutes, stages, given):  # check value 11
    assert heat_credit(celsius, minutes, stages).given is given


@pytest.mark.parametrize(("celsius", "minutes"), [(54.9, 71), (50, 71.9), (47.9, 100_000), (46.5, 200)])
def test_nothing_is_read_between_two_rows_of_heat(celsius, minutes):
    """A curve from 48 C and 72 minutes to 55 C and a moment would credit the first two."""
    assert not heat_credit(celsius, minutes).given


@pytest.mark.parametrize(
    ("celsius", "hours", "given"),
    [
        (-16, 79, False),
        (-16, 80, True),
        (-20, 48, True),
        (-12, 168, False),
        (-19.9, 48, False),
        (-17, 2, False),
    ],
)
def test_cold_is_credited_by_its_rows_alone(celsius, hours, given):  # check value 12; the last is NB10's
    assert cold_credit(celsius, hours).given is given


@pytest.mark.parametrize(
    ("what", "celsius", "minutes", "given"),
    [
        ("wash", 60, 0, True),
        ("wash", 40, 0, False),
        ("wash", 59, 120, False),
        ("dry", 41, 29, False),
        ("dry", 41, 30, True),
        ("dry", 40, 60, False),
        ("soak", 0, 1440, False),
        ("dry-clean", 0, 0, True),
    ],
)
def test_laundry_is_credited_by_its_rows_alone(what, celsius, minutes, given):  # check value 13
    assert laundry_credit(what, celsius, minutes).given is given


def test_steam_is_credited_as_a_pass_and_never_as_the_end():
    """71-82 C at the surface (Cornell extension); 88-94 % of nymphs and adults died (Puckett et al. 2013)."""
    assert not steam_credit(70.9).given
    assert steam_credit(71).given
    assert "the visit again stands" in steam_credit(75).words
    assert "82 C" in steam_credit(95).words


def test_the_coldest_probe_decides():
    hot = [(minute, 52.0) for minute in range(0, 100, 10)]
    cool = [(minute, 47.5) for minute in range(0, 100, 10)]
    assert probes_credit({"sofa": hot, "bed": hot}).given
    verdict = probes_credit({"sofa": hot, "closet": cool, "bed": hot})
    assert not verdict.given
    assert verdict.words.startswith("Probe closet decides.")


def test_a_dip_or_a_gap_breaks_a_hold():
    steady = [(minute, 48.0) for minute in range(0, 73, 12)]
    assert longest_hold(steady, 48.0) == 72.0
    dipped = [(m, 47.9 if m == 36 else c) for m, c in steady]
    assert longest_hold(dipped, 48.0) == 24.0
    assert not probes_credit({"bed": dipped}).given
    gap = [(0.0, 50.0), (80.0, 50.0)]
    assert longest_hold(gap, 48.0) == 0.0, "nobody knows what was between"
    assert longest_hold([(0.0, 20.0)], 48.0) is None


@settings(max_examples=60, deadline=None)
@given(
    st.floats(30, 70), st.floats(0, 600), st.floats(0, 20), st.floats(0, 300), st.sampled_from(holds.STAGES)
)
def test_more_heat_or_more_time_never_loses_a_credit(celsius, minutes, hotter, longer, stages):
    if heat_credit(celsius, minutes, stages).given:
        assert heat_credit(celsius + hotter, minutes + longer, stages).given
    if heat_credit(celsius, minutes, "all").given:
        assert heat_credit(celsius, minutes, "adults").given, "what kills eggs kills the rest"


@settings(max_examples=60, deadline=None)
@given(
    st.dictionaries(st.sampled_from("abc"), st.lists(st.floats(20, 60), min_size=2, max_size=12), min_size=1)
)
def test_probes_are_credited_when_each_of_them_is(probes):
    logs = {name: [(10.0 * i, c) for i, c in enumerate(temps)] for name, temps in probes.items()}
    alone = [probes_credit({name: log}).given for name, log in logs.items()]
    assert probes_credit(logs).given == all(alone)


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row.name)
def test_every_row_has_its_source_and_confidence(row):
    assert len(row.source) > 10
    assert row.confidence in CONFIDENCES


def test_words_say_why():
    assert "too short; at 48 C (118 F) it takes 72 minutes" in heat_credit(48, 30).words
    assert "enough for adults and not for eggs" in heat_credit(45, 420).words
    assert "eggs survived 7 hours" in heat_credit(45, 420).words
    assert "too cool" in heat_credit(40, 600).words
    assert "it takes 80 hours" in cold_credit(-17, 2).words
    assert "eggs alive" in laundry_credit("wash", 40).words


@pytest.mark.parametrize(
    "call",
    [
        lambda: heat_credit(float("nan"), 1),
        lambda: heat_credit(50, -1),
        lambda: heat_credit(50, 1, "nymphs"),
        lambda: laundry_credit("iron"),
        lambda: probes_credit({}),
        lambda: probes_credit({"bed": []}),
        lambda: probes_credit({"bed": [(10, 50), (5, 50)]}),
    ],
)
def test_what_is_no_measurement_is_refused(call):
    with pytest.raises(ValueError, match=r"expected|known|must|needs"):
        call()


def test_degrees_f_beside_a_row_are_those_of_its_degrees_c():
    warm = [row for row in ROWS if " C (" in row.name]
    assert len(warm) >= 12
    for row in warm:
        celsius, degrees_f = re.search(r"(-?\d+) C \((-?\d+) F\)", row.name).groups()
        assert float(celsius) == row.celsius
        assert int(degrees_f) == round(fahrenheit(row.celsius)), row.name

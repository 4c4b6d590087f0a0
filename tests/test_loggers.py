"""Logs as loggers write them say what our own form says, and nothing odd in one is passed over."""

import datetime as dt
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st
from probe_logs import job

from spread.cli import main
from spread.errors import SpreadError
from spread.tables.loggers import parse_probe_log
from spread.trade.probes import probes_credit

BEGINS = dt.datetime(2026, 11, 2, 22, 30)  # over midnight


def wide(logs, form="%Y-%m-%d %H:%M:%S", *, mark=",", heads="{} (°C)", begins=BEGINS, f=False, comma=False):
    """A table of a time stamp and a column a probe, blank where a probe read nothing at that time."""
    times = sorted({minute for readings in logs.values() for minute, _ in readings})
    by = {name: dict(readings) for name, readings in logs.items()}

    def cell(name, minute):
        if minute not in by[name]:
            return ""
        text = f"{by[name][minute] * 1.8 + 32.0:.2f}" if f else f"{by[name][minute]}"
        return text.replace(".", ",") if comma else text

    rows = [mark.join(["Time", *(heads.format(name) for name in logs)])]
    for minute in times:
        stamp = (begins + dt.timedelta(minutes=minute)).strftime(form)
        rows.append(mark.join([stamp, *(cell(name, minute) for name in logs)]))
    return "\n".join(rows) + "\n"


def read(text, **more):
    return parse_probe_log(text.encode(), "log.csv", **more).readings


@pytest.mark.parametrize(
    "form",
    [
        "%Y-%m-%d %H:%M:%S",
        "%Y-%m-%dT%H:%M",
        "%m/%d/%Y %H:%M",
        "%d/%m/%y %I:%M:%S %p",
        "%d.%m.%Y %H:%M",
        "%H:%M",
    ],
)
def test_a_loggers_form_says_what_our_own_says(form):
    logs = job()
    assert read(wide(logs, form)) == logs
    assert read(wide(logs, form, mark=";", comma=True)) == logs
    assert probes_credit(read(wide(logs, form)), "all").given == probes_credit(logs, "all").given is True


def test_degrees_f_by_heading_or_as_said_and_never_guessed():
    logs = job()
    for text, more in (
        (wide(logs, heads="{} °F", f=True), {}),
        (wide(logs, heads="{}", f=True), {"scale": "F"}),
    ):
        found = read(text, **more)
        for name, readings in logs.items():
            assert [celsius for _, celsius in found[name]] == pytest.approx(
                [c for _, c in readings], abs=0.01
            )
    with pytest.raises(SpreadError, match="add --scale C or --scale F"):
        read(wide(logs, heads="{}", f=True))


def test_titles_counters_day_apart_and_other_measures_are_passed_over():
    logs = job()
    lines = wide(logs).splitlines()
    told = ["Plot title: heat;;", "#;Date;Hour;" + ";".join(lines[0].split(",")[1:]) + ";RH, %;Stopped"]
    for number, line in enumerate(lines[1:], 1):
        stamp, *cells = line.split(",")
        told.append(";".join([str(number), *stamp.split(" "), *cells, "41", "Logged" if number == 1 else ""]))
    log = parse_probe_log("\n".join(told).encode(), "log.csv")
    assert log.readings == logs
    assert log.left_out == ("RH, %",)


@pytest.mark.parametrize("cell", ["OL", "---", "21.5x", "nan", "inf", "1e9", "999"])
@given(place=st.data())
def test_a_cell_that_is_no_temperature_is_named_and_refused(cell, place):
    lines = wide(job()).splitlines()
    row = place.draw(st.integers(1, len(lines) - 1))
    cells = lines[row].split(",")
    cells[1] = cell
    lines[row] = ",".join(cells)
    with pytest.raises(SpreadError, match=rf"row {row + 1}, column 'mattress'"):
        read("\n".join(lines))


def test_a_clock_that_jumps_is_asked_about():
    logs = job()
    lines = wide(logs, begins=dt.datetime(2026, 11, 1, 0, 30)).splitlines()

    def moved(line, hours):
        stamp, rest = line.split(",", 1)
        return f"{dt.datetime.fromisoformat(stamp) + dt.timedelta(hours=hours)},{rest}"

    back = "\n".join([*lines[:46], *(moved(line, -1) for line in lines[46:])])
    with pytest.raises(SpreadError, match=r"row 47.* back to .*--clock-changed"):
        read(back)
    assert read(back, clock_changed=True) == logs
    on = "\n".join([*lines[:46], *(moved(line, 1) for line in lines[46:])])
    assert not probes_credit(read(on), "all").given, "an hour that nobody read"
    assert read(on, clock_changed=True) == logs
    with pytest.raises(SpreadError, match="no jump of an hour"):
        read("\n".join(lines), clock_changed=True)
    noon = wide(logs, begins=dt.datetime(2026, 11, 1, 11, 30)).splitlines()
    gap = "\n".join([*noon[:46], *(moved(line, 1) for line in noon[46:])])
    with pytest.raises(SpreadError, match="no jump of an hour in the night"):
        read(gap, clock_changed=True)


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ("Time,bed (C)\n", "no row of it has a time stamp"),
        ("a,b\n1,2\n", "no row of it has a time stamp"),
        ("Time,bed (C)\n10:00,21\n10:00,22\n", "row 3.*that of the row above"),
        ("Time,bed (C)\n10:02,21\n10:00,22\n", "row 3.*back to 10:00:00"),
        ("Time,bed (C)\n10:00,21\nsoon,22\n", "row 3.*'soon' is no time"),
        ("Time,bed (C),bed (C)\n10:00,21,22\n10:02,22,22\n", "two columns are headed 'bed'"),
        ("Time,RH %\n10:00,21\n10:02,22\n", "no column of it has temperatures"),
        ("Time,bed (C)\n10:00,21 F\n", "row 2, column 'bed'.*not in C"),
        ("PK\x03\x04", "it is a workbook"),
        ("", "it is empty"),
    ],
)
def test_what_cannot_be_read_is_refused_in_a_sentence(text, what, tmp_path, capsys):
    path = tmp_path / "log.csv"
    path.write_bytes(text.encode())
    assert main(["credit", "heat", "--probes", str(path)]) == 2
    err = capsys.readouterr().err
    assert "Traceback" not in err
    assert re.search(what, err), err


def test_the_command_reads_a_loggers_file_and_says_what_it_left_out(tmp_path, capsys):
    path = tmp_path / "log.csv"
    lines = wide(job()).splitlines()
    path.write_text(
        "\n".join([lines[0] + ",Battery", *(f"{line},3" for line in lines[1:])]), encoding="utf-8"
    )
    assert main(["credit", "heat", "--probes", str(path)]) == 0
    out, err = capsys.readouterr()
    assert out.startswith("Every probe: Credited")
    assert "Left out, being no temperatures: Battery." in err

"""A firm's buildings fitted together: what is fitted again, what is kept, and what a killed worker costs."""

from __future__ import annotations

import csv
import datetime as dt
import io
import json
import os
import shutil
import signal
from dataclasses import replace

import h5netcdf
import numpy as np
import psutil
import pyarrow.parquet
import pytest
from small import LIVED_IN, ON, QUICKER, fitted_firm, lay_out

from dashboard.figures.graph import CONFIG
from spread.building import load_building
from spread.cli import main
from spread.errors import SpreadError
from spread.firm import fitting
from spread.firm.fitting import Asked, fit_one, is_fresh, program_mark, seed_of, session_of
from spread.firm.keeping import of_bytes
from spread.firm.night import Workers, learn, run_all, states_of
from spread.firm.places import POSTERIOR_FILE, TAUGHT_FILE, places_at
from spread.firm.pooled import enough
from spread.firm.tomorrow import tomorrow_of
from spread.portfolio.team import Team
from spread.records.kinds import FIELDS, Record
from spread.trade.experience import POOLED_FILE, experience_beside
from spread.words import ENGLISH
from spread.words.doors import reason_text
from spread.words.learned import learned_words

ASKED = Asked(ON, program_mark(), QUICKER)


@pytest.fixture(autouse=True)
def short_chain(monkeypatch):
    """Buildings teach one another by few draws here: what they say is held elsewhere."""
    monkeypatch.setattr("spread.firm.night.KEPT", 60)


def firm(folder, *keys, rows=LIVED_IN):
    for key in keys:
        lay_out(folder / key, 2, 3, rows, ON)
    return folder


def fit(folder, key="elm", asked=ASKED):
    return fit_one(str(folder), key, asked)


def add_row(folder, day, unit="103", number="new-1"):
    with (folder / "records.csv").open("a", newline="", encoding="utf-8") as file:
        row = {"id": number, "when": day.isoformat(), "unit": unit, "kind": "inspection",
               "method": "thorough-visual", "found": "no"}  # fmt: skip
        csv.DictWriter(file, FIELDS).writerow(row)


def test_a_building_is_fitted_again_only_where_log_plan_settings_or_what_the_firm_taught_changed(tmp_path):
    firm(tmp_path, "elm")
    home = tmp_path / "elm"
    assert fit(tmp_path).state == "fitted"
    first = (home / POSTERIOR_FILE).read_bytes()
    assert fit(tmp_path).state == "unchanged"
    assert (home / POSTERIOR_FILE).read_bytes() == first
    assert (home / "records.csv.summary").exists(), "the page of many buildings reads this"

    add_row(home, ON)
    assert fit(tmp_path).state == "fitted"
    settings = (home / "building.toml").read_text(encoding="utf-8")
    (home / "building.toml").write_text(settings + "\n[model]\nprevalence = 0.2\n", encoding="utf-8")
    assert fit(tmp_path).state == "fitted"
    plan = json.loads((home / "plan.geojson").read_text(encoding="utf-8"))
    plan["features"] = [f for f in plan["features"] if f["properties"].get("kind") != "bed"]
    (home / "plan.geojson").write_text(json.dumps(plan), encoding="utf-8")
    assert fit(tmp_path).state == "fitted"
    taught = {"format": 1, "on": ON.isoformat(), "buildings": 9, "in_use": {"wall": [-4.0, 0.3]}}
    (tmp_path / POOLED_FILE).write_text(json.dumps(taught), encoding="utf-8")
    assert fit(tmp_path).state == "fitted"
    assert fit(tmp_path).state == "unchanged"
    opened = session_of(places_at(str(tmp_path)), "elm", ASKED)[0]
    wall = next(rate for rate in opened.learned().rates if rate.name == "wall")
    assert wall.prior.median == pytest.approx(np.exp(-4.0)), "the fit began from what the firm taught"
    assert wall.taught_by == 9


def test_a_day_that_goes_by_changes_nothing_until_a_row_was_waiting_for_it_or_it_is_old(tmp_path):
    firm(tmp_path, "elm")
    add_row(tmp_path / "elm", ON + dt.timedelta(days=5))
    assert fit(tmp_path).state == "fitted"
    kept = of_bytes((tmp_path / "elm" / POSTERIOR_FILE).read_bytes())
    assert kept.stamp.until == ON + dt.timedelta(days=5)
    mark = kept.stamp.mark

    def fresh(days, stamp=kept.stamp):
        return is_fresh(stamp, mark, replace(ASKED, on=ON + dt.timedelta(days=days)))

    assert (fresh(0), fresh(4), fresh(5), fresh(-1)) == (True, True, False, False)
    waits = replace(kept.stamp, until=None)
    assert (fresh(27, waits), fresh(28, waits)) == (True, False)
    assert not is_fresh(kept.stamp, mark, replace(ASKED, again=True))
    longer = replace(ASKED, settings=replace(QUICKER, sweeps=20, most_sweeps=20))
    assert not is_fresh(kept.stamp, mark, longer), "a longer fit was asked for"


def test_seeds_go_by_the_buildings_key_and_the_same_run_writes_the_same_bytes(tmp_path):
    one, other = firm(tmp_path / "one", "elm", "oak"), firm(tmp_path / "other", "oak", "elm")
    assert seed_of("elm", 1) != seed_of("oak", 1) != seed_of("oak", 2)
    for folder, keys in ((one, ("elm", "oak")), (other, ("oak", "elm"))):
        assert [fit(folder, key).state for key in keys] == ["fitted"] * 2
    for key in ("elm", "oak"):
        assert (one / key / POSTERIOR_FILE).read_bytes() == (other / key / POSTERIOR_FILE).read_bytes()
    chances = [of_bytes((one / key / POSTERIOR_FILE).read_bytes()).arrays["levels"] for key in ("elm", "oak")]
    assert not np.array_equal(*chances), "two buildings alike have luck of their own"


def test_a_building_opens_on_what_is_kept_as_its_fit_left_it(tmp_path, monkeypatch):
    firm(tmp_path, "elm")
    made = []

    class Seen(fitting.Session):
        def __init__(self, *args, **more):
            super().__init__(*args, **more)
            made.append(self)

    monkeypatch.setattr(fitting, "Session", Seen)
    assert fit(tmp_path).state == "fitted"
    monkeypatch.setattr(fitting, "fit", None)  # nothing may be fitted from here on
    opened, fresh = session_of(places_at(str(tmp_path)), "elm", ASKED)
    assert fresh
    assert opened.doors() == made[0].doors()
    assert opened.learned() == made[0].learned()
    assert opened.warnings() == made[0].warnings()
    assert opened.past() == made[0].past()
    look = Record("r-1", ON, "103", "inspection", "thorough-visual", found="yes", level="low")
    moved = []
    for session in (made[0], opened):
        view = session.view
        moved.append(view.posterior.update(look, view.network, view.dynamics))
    assert np.array_equal(moved[0].levels, moved[1].levels)
    assert moved[1].chance[view.network.index["103"]] > opened.chances()["103"]


def test_an_office_keeps_posteriors_and_what_the_firm_learned(tmp_path):
    office, given = str(tmp_path / "office.db"), tmp_path / "given"
    firm(tmp_path, "elm")
    assert main(["office", "init", office]) == 0
    with pytest.raises(SpreadError, match="no building yet"):
        places_at(office)
    assert main(["office", "add", office, str(tmp_path / "elm")]) == 0
    assert fit(office).state == "fitted"
    assert fit(office).state == "unchanged", "what a fit keeps is no change of the building"
    places = places_at(office)
    assert [one.summary.on for one in places.summaries()] == [ON]
    assert session_of(places, "elm", ASKED)[1]
    taught = {"format": 1, "on": ON.isoformat(), "buildings": 9, "in_use": {"wall": [-4.0, 0.3]}}
    places.keep_own(POOLED_FILE, json.dumps(taught))
    assert load_building(places.source("elm")).experience.buildings == 9
    assert fit(office).state == "fitted"
    assert main(["office", "take-out", office, "elm", str(given)]) == 0
    assert not [*given.glob("*.posterior"), *given.glob("*.taught")], "they are made anew where wanted"


def as_of_format_1(data):
    """The same file as a version wrote it that knew of no shared room."""
    with np.load(io.BytesIO(data)) as file:
        arrays = {name: file[name] for name in file.files if not name.startswith("shared_")}
    told = json.loads(arrays.pop("told").tobytes()) | {"format": 1}
    arrays["blame_other"] = arrays["blame_other"][:, :4]
    made = io.BytesIO()
    np.savez_compressed(made, told=np.frombuffer(json.dumps(told).encode(), dtype=np.uint8), **arrays)
    return made.getvalue()


@pytest.mark.parametrize(
    "spoil", [lambda data: data[:200], lambda data: b"x" + data, lambda data: b"{}", as_of_format_1]
)
def test_a_spoilt_posterior_is_as_good_as_none(tmp_path, spoil):
    firm(tmp_path, "elm")
    fit(tmp_path)
    path = tmp_path / "elm" / POSTERIOR_FILE
    whole = path.read_bytes()
    path.write_bytes(spoil(whole))
    assert of_bytes(path.read_bytes()) is None
    assert fit(tmp_path).state == "fitted"
    assert path.read_bytes() == whole


def test_a_worker_of_another_version_refuses(tmp_path):
    firm(tmp_path, "elm")
    done = fit(tmp_path, asked=replace(ASKED, program="older"))
    assert (done.state, "another version" in done.problem) == ("failed", True)
    assert not (tmp_path / "elm" / POSTERIOR_FILE).exists()


def test_workers_that_are_killed_cost_time_and_nothing_else(tmp_path):
    """Two processes, both killed while they fit; a building that cannot be read stops nobody."""
    one, other = tmp_path / "one", tmp_path / "other"
    keys = ("ash", "elm", "oak")
    for folder in (one, other):
        firm(folder, *keys)
    (one / "broken").mkdir()
    (one / "broken" / "building.toml").write_text('name = "Broken"\n', encoding="utf-8")
    killed = []

    def tell(outcome):
        if not killed:
            for child in psutil.Process().children(recursive=True):
                if "spawn_main" in " ".join(child.cmdline()):
                    killed.append(child.pid)
                    os.kill(child.pid, signal.SIGKILL)

    places = places_at(str(one))
    done = run_all(places, ("broken", *keys), ASKED, Workers(2, 1000), tell)
    assert len(killed) >= 2, "workers were there to be killed"
    states = {outcome.key: outcome.state for outcome in done}
    assert states.pop("broken") == "failed"
    assert set(states) == set(keys)
    assert set(states.values()) <= {"fitted", "unchanged"}, "unchanged: killed between writing and telling"
    assert "plan.geojson" in next(outcome.problem for outcome in done if outcome.key == "broken")
    for key in keys:
        assert fit(other, key).state == "fitted"
        assert (one / key / POSTERIOR_FILE).read_bytes() == (other / key / POSTERIOR_FILE).read_bytes()


def test_the_status_table_says_what_is_to_be_fitted(tmp_path, capsys):
    firm(tmp_path, "elm", "oak", "yew")
    for key in ("elm", "oak"):
        fit(tmp_path, key)
    add_row(tmp_path / "oak", ON)
    states = {
        one.key: one.state for one in states_of(places_at(str(tmp_path)), replace(ASKED, settings=None))
    }
    assert states == {"elm": "fresh", "oak": "changed", "yew": "never"}
    assert main(["portfolio", "status", str(tmp_path), "--on", ON.isoformat()]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert [line.split()[0] for line in lines[1:4]] == ["elm", "oak", "yew"]
    assert "to be fitted" in lines[2]
    assert lines[-1] == "3 buildings: 1 as its log stands, 1 to be fitted, 1 never fitted."
    assert main(["portfolio", "status", str(tmp_path), "--on", ON.isoformat(), "--json"]) == 0
    assert [one["state"] for one in json.loads(capsys.readouterr().out)] == ["fresh", "changed", "never"]


def test_the_command_names_who_failed_and_its_exit_code_says_so(tmp_path, capsys, monkeypatch):
    firm(tmp_path, "elm")
    (tmp_path / "broken").mkdir()
    (tmp_path / "broken" / "building.toml").write_text('name = "Broken"\n', encoding="utf-8")

    def here(places, keys, asked, crew, tell):
        for key in keys:
            tell(fit_one(places.address, key, asked))

    monkeypatch.setattr("spread.firm.night.run_all", here)
    words = ["portfolio", "fit", str(tmp_path), "--on", ON.isoformat(), "--sweeps", "10", "--workers", "1"]
    assert main(words) == 1
    told = capsys.readouterr()
    lines = told.out.splitlines()
    assert [line.split(": ")[1].split(",")[0] for line in lines[:2]] == ["failed", "fitted"]
    assert lines[2].startswith("2 buildings: 1 fitted, 1 failed;")
    assert told.err.startswith("broken: ")
    assert main([*words, "--only", "elm"]) == 0
    assert "1 unchanged" in capsys.readouterr().out

    def stopped(places, keys, asked, crew, tell):
        tell(fit_one(places.address, "elm", asked))
        raise KeyboardInterrupt

    monkeypatch.setattr("spread.firm.night.run_all", stopped)
    assert main(words) == 130
    assert "2 buildings: 1 unchanged, 1 not reached" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["nowhere"], "there is no such folder"),
        (["firm", "--only", "fir"], "there is no building 'fir'"),
        (["firm", "--workers", "0"], "expected 1 to 512"),
        (["firm", "--memory", "5"], "expected 300 to"),
        (["firm/elm"], "it is one building's folder"),
        (["firm", "--scheduler", "nonsense://x"], "the scheduler does not answer"),
    ],
)
def test_what_cannot_be_run_is_said_in_a_sentence(tmp_path, monkeypatch, capsys, words, said):
    monkeypatch.chdir(tmp_path)
    firm(tmp_path / "firm", "elm")
    assert main(["portfolio", "fit", *words]) == 2
    told = capsys.readouterr()
    assert said in told.err
    assert "Traceback" not in told.err
    assert not (tmp_path / "firm" / "elm" / POSTERIOR_FILE).exists()


@pytest.mark.parametrize(
    "told",
    [
        "{",
        "[]",
        '{"format": 1}',
        {"format": 2},
        {"in_use": {"wall": [1.0, float("nan")]}},
        {"in_use": {"wall": [900.0, 1.0]}},
        {"in_use": {"share:never": [-1.0, 2.0]}},
        {"on": "yesterday"},
    ],
)
def test_what_the_firm_taught_is_refused_where_it_is_spoilt(tmp_path, told):
    good = {"format": 1, "on": "2026-01-01", "buildings": 1, "in_use": {}}
    path = tmp_path / POOLED_FILE
    path.write_text(json.dumps(good), encoding="utf-8")
    assert experience_beside(tmp_path / "elm").buildings == 1
    path.write_text(told if isinstance(told, str) else json.dumps(good | told), encoding="utf-8")
    with pytest.raises(SpreadError, match=r"pooled\.json"):
        experience_beside(tmp_path / "elm")


@pytest.fixture(scope="module")
def taught(tmp_path_factory):
    """Six simulated buildings, fitted and pooled in this process, with a page."""
    folder = tmp_path_factory.mktemp("firm") / "firm"
    return folder, fitted_firm(folder, 6, 1, ASKED)


def test_what_buildings_taught_is_kept_and_makes_every_fit_begin_from_it(
    taught, tmp_path, capsys, monkeypatch
):
    def together(members, *rest, **more):
        raise InterruptedError(f"{len(members)} buildings")

    folder, asked = tmp_path / "firm", taught[1]
    shutil.copytree(taught[0], folder)
    places = places_at(str(folder))
    with pytest.raises(SpreadError, match="expected 5 or more"):
        enough({})
    told = learn(places, asked.on, keep=False)
    assert told.moved
    assert not places.own(POOLED_FILE)
    assert main(["portfolio", "pool", str(folder), "--on", asked.on.isoformat()]) == 0
    said = capsys.readouterr().out
    assert "It stays with this firm" in " ".join(said.split())
    kept = json.loads(places.own(POOLED_FILE))
    assert kept["in_use"].keys() == told.pooled.next_building.keys()
    assert kept["in_use"], "six logs say something"
    assert not {"house-1", "101"} & set(json.dumps(kept).split('"')), "neither a building nor a unit is named"
    assert {one.state for one in states_of(places, replace(asked, settings=None))} == {"changed"}
    taught_before = (folder / "house-1" / TAUGHT_FILE).read_bytes()
    assert fit(folder, "house-1", asked).state == "fitted"
    assert (folder / "house-1" / TAUGHT_FILE).read_bytes() == taught_before, "nobody learns from a pupil"
    assert not learn(places, asked.on).moved, "the chain is not run again"
    monkeypatch.setattr("spread.firm.joining.together", together)
    add_row(folder / "house-1", asked.on, "101")
    with pytest.raises(InterruptedError, match="6 buildings"):  # one of six is more than one of ten
        learn(places, asked.on)
    learned = session_of(places, "house-1", asked)[0].learned()
    by_firm = {rate.name for rate in learned.rates if rate.taught_by == 6}
    assert by_firm == {rate.name for rate in learned.rates} & kept["in_use"].keys()
    said = " ".join(learned_words(learned, ENGLISH))
    assert bool(by_firm) == ("the firm’s other buildings" in said or "buildings of the firm taught" in said)


def test_the_first_doors_of_all_buildings_are_those_that_avert_most_with_their_reasons(taught, capsys):
    folder, asked = taught
    places = places_at(str(folder))
    found = tomorrow_of(places, replace(asked, settings=None), Team(7.0, 1, 30.0), 4)
    assert len(found.doors) == 4
    assert (found.changed, found.problems) == ((), ())
    rates = [stay.averted / (stay.minutes + stay.travel) for stay in found.stays]
    assert rates == sorted(rates, reverse=True)
    names = [one.kept.key for one in found.doors]
    assert names == sorted(names, key=[stay.kept.key for stay in found.stays].index)
    for key in set(names):
        hours = [one.row.per_hour for one in found.doors if one.kept.key == key]
        assert hours == sorted(hours, reverse=True)
    words = ["portfolio", "doors", str(folder), "--on", asked.on.isoformat(), "--top", "4"]
    assert main(words) == 0
    said = " ".join(capsys.readouterr().out.split())
    for one in found.doors:
        assert f"{one.session.building.name}, {one.row.unit} chance" in said
        assert reason_text(one.row.reasons, ENGLISH) in said
    assert "clears no unit" in said
    assert main([*words, "--json"]) == 0
    told = json.loads(capsys.readouterr().out)["doors"]
    assert [(one["building"], one["unit"]) for one in told] == [(o.kept.key, o.row.unit) for o in found.doors]


def test_the_report_is_a_page_and_files_that_others_read(taught, tmp_path, capsys):
    folder, asked = taught
    words = ["portfolio", "report", str(folder), "-o", str(tmp_path / "out"), "--on", asked.on.isoformat()]
    assert main(words) == 0
    capsys.readouterr()
    rows = pyarrow.parquet.read_table(tmp_path / "out" / "buildings.parquet").to_pylist()
    kept = {one.key: one.summary for one in places_at(str(folder)).summaries()}
    assert {row["building"]: row["infested_median"] for row in rows} == {k: s.median for k, s in kept.items()}
    with h5netcdf.File(tmp_path / "out" / "learned.nc") as file:
        assert file["centre"].dimensions == ("step", "quantity")
        assert len(file["building"][:]) == 6
        assert np.isfinite(file["centre"][:]).all()
    page = (tmp_path / "out" / "portfolio.html").read_text(encoding="utf-8")
    assert "default-src &#x27;none&#x27;" in page or "default-src 'none'" in page
    for said in ("First doors", "Where an hour averts most", "Which way of looking pays", "clears no unit"):
        assert said in page
    assert 'src="http' not in page
    few = firm(tmp_path / "few", "elm")
    assert main(["portfolio", "report", str(few), "-o", str(tmp_path / "none")]) == 0
    told = capsys.readouterr()
    assert "expected 5 or more" in told.err
    assert "No door to look at is known" in (tmp_path / "none" / "first-doors.txt").read_text(
        encoding="utf-8"
    )


def test_a_simulated_firm_is_made_fitted_pooled_and_shown_in_one_command(tmp_path, monkeypatch, capsys):
    opened = []
    monkeypatch.setattr("webbrowser.open", opened.append)

    def here(places, keys, asked, crew, tell):
        for key in keys:
            tell(fit_one(places.address, key, asked))

    monkeypatch.setattr("spread.firm.night.run_all", here)
    where = tmp_path / "firm"
    words = ["portfolio", "demo", str(where), "--buildings", "5", "--sweeps", "10", "--on", ON.isoformat()]
    assert main(words) == 0
    said = capsys.readouterr().out
    assert said.count(": fitted,") == 10, "once as the literature has it, once as the firm does"
    assert opened == [(where / "page" / "portfolio.html").as_uri()]
    assert CONFIG["plotlyServerURL"] == "", "the page took nothing out of what other pages share"
    assert main(words) == 2
    assert "not empty" in capsys.readouterr().err
    days = {one.summary.on for one in places_at(str(where)).summaries()}
    status = ["portfolio", "status", str(where), "--on", days.pop().isoformat()]
    assert main(status) == 0
    assert capsys.readouterr().out.endswith("5 buildings: 5 as its log stands.\n"), (
        "none is out of date by it"
    )

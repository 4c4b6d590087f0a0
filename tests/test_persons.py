"""Work codes over a firm's buildings: nothing unless the firm turns it on, and what is said and kept then."""

from __future__ import annotations

import json
import shutil
import zipfile
from dataclasses import replace

import numpy as np
import pyarrow.parquet
import pytest
from small import ON, QUICKER, fitted_firm

from spread.building import load_building
from spread.cli import main
from spread.errors import SpreadError
from spread.firm.fitting import Asked, fit_one, program_mark, session_of
from spread.firm.night import learn
from spread.firm.persons import (
    LETTERS,
    choose,
    known_of,
    likelihoods_of,
    log_on_grid,
    persons_in,
    pools_by_person,
)
from spread.firm.places import TAUGHT_FILE, places_at
from spread.posterior.seeing import ODDS, WIDTHS
from spread.report.learned import rates_text
from spread.trade.experience import POOLED_FILE, experience_beside, experience_of, persons_believed
from spread.trade.seeing import PEOPLE

ASKED = Asked(ON, program_mark(), QUICKER)
CODE = "ZQ-77"
"""A work code that no log names."""


@pytest.fixture(scope="module")
def fitted(tmp_path_factory):
    folder = tmp_path_factory.mktemp("persons") / "firm"
    return folder, fitted_firm(folder, 5, 3, ASKED)


@pytest.fixture
def firm(fitted, tmp_path):
    shutil.copytree(fitted[0], tmp_path / "firm")
    return places_at(str(tmp_path / "firm")), tmp_path / "firm", fitted[1]


def files_of(folder):
    return {path.relative_to(folder): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def fit_all(places, asked):
    return [fit_one(places.address, key, asked).state for key in places.keys()]  # noqa: SIM118


def test_unless_the_firm_turns_it_on_nothing_about_persons_is_made_or_kept(firm, capsys):
    places, folder, asked = firm
    assert not pools_by_person(places)
    learn(places, asked.on)
    without = files_of(folder)
    choose(places, by_person=False)
    learn(places, asked.on)
    fit_all(places, replace(asked, oldest=400))
    again = files_of(folder)
    pooled = json.loads(again[next(path for path in again if path.name == POOLED_FILE)])
    assert "persons" not in pooled
    assert {"T1", "T2", "T3", "K9"}.isdisjoint(json.dumps(pooled).split('"'))
    taught = [data for path, data in again.items() if path.name == TAUGHT_FILE]
    assert taught == [data for path, data in without.items() if path.name == TAUGHT_FILE]
    assert not any(b"T1" in data for data in taught)
    assert main(["portfolio", "persons", str(folder)]) == 0
    assert "Nothing is pooled about persons" in capsys.readouterr().out


def test_turned_on_it_is_kept_under_its_own_key_and_turned_off_it_is_gone(firm, capsys):
    places, folder, asked = firm
    learn(places, asked.on)
    pooled_before = json.loads(places.own(POOLED_FILE))
    assert main(["portfolio", "persons", str(folder), "--pool"]) == 0
    assert "Nothing is kept yet" in capsys.readouterr().out
    assert set(fit_all(places, asked)) == {"fitted"}
    assert learn(places, asked.on).moved
    told = json.loads(places.own(POOLED_FILE))
    assert told["persons"]["codes"].keys() <= {"T1", "T2", "T3", "K9"}
    assert len(told["persons"]["codes"]) >= 2
    assert told.keys() - {"persons"} == pooled_before.keys()
    for one in known_of(told["persons"]):
        assert one.low < one.median < one.high
        assert one.buildings >= 2
        assert one.looks >= 20
    assert not learn(places, asked.on).moved, "the same again moves nothing"
    key = places.keys()[0]
    assert fit_one(places.address, key, asked).state == "fitted"
    said = " ".join(rates_text(session_of(places, key, asked)[0]).split())
    assert "The firm pools by work code" in said
    assert "never use them for pay or discipline" in said
    assert main(["portfolio", "persons", str(folder)]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "no measure of diligence, pay, character or reasons" in said
    assert "must be told of it beforehand" in said
    for one in known_of(told["persons"]):
        line = said[said.index(f"{one.code}: ") :].split(" buildings.")[1]
        assert line.startswith(" This holds 1: it says nothing") == (one.low < 1.0 < one.high)

    before = files_of(folder)
    assert main(["portfolio", "persons", str(folder), "--forget"]) == 0
    after = files_of(folder)
    for path, data in after.items():
        if path.name == TAUGHT_FILE:
            assert persons_in(data) is None
            kept = json.loads(before[path])
            assert kept.pop("persons")
            assert json.loads(data) == kept
    assert json.loads(places.own(POOLED_FILE)) == {k: v for k, v in told.items() if k != "persons"}
    assert "by:" not in str(experience_beside(folder / key).believed)


def test_by_hand_turned_off_the_next_pool_deletes_it(firm):
    places, folder, asked = firm
    told = {"format": 1, "on": "2026-01-01", "buildings": 5, "in_use": {}, "persons": shown("x", "y")}
    places.keep_own(POOLED_FILE, json.dumps(told))
    (folder / "firm.toml").write_text("[pooling]\nby_person = false\n", encoding="utf-8")
    assert learn(places, asked.on, keep=False).moved
    assert persons_in(places.own(POOLED_FILE)), "a dry run deletes nothing"
    learn(places, asked.on)
    assert persons_in(places.own(POOLED_FILE)) is None
    (folder / "firm.toml").write_text("[pooling]\nby_person = 'yes'\n", encoding="utf-8")
    with pytest.raises(SpreadError, match="neither true nor false"):
        learn(places, asked.on)


AT = [round(float(x), 4) for x in np.log(ODDS)]


def shown(*keys, code=CODE, mean=-1.5, precision=6.0):
    logs = [-0.5 * precision * (x - mean) ** 2 for x in AT]
    return {"width": 0.5, "at": AT, "codes": {code: {"looks": 90, "shown": dict.fromkeys(keys, logs)}}}


def test_a_building_believes_what_the_others_showed_and_its_own_log_counts_once():
    data = {"format": 1, "on": "2026-01-01", "buildings": 5, "in_use": {}, "persons": shown("elm", "oak")}
    text = json.dumps(data).encode()
    assert experience_of(text).believed == {}, "without a building nothing of a person is believed"
    new, elm = (experience_of(text, key).believed[f"by:{CODE}"] for key in ("new", "elm"))
    assert new == pytest.approx((-18.0 / 16.0, 16.0**-0.5), rel=0.01)
    assert elm == pytest.approx((-9.0 / 10.0, 10.0**-0.5), rel=0.01)
    alone = json.dumps(data | {"persons": shown("elm")}).encode()
    assert experience_of(alone, "elm").believed == {}
    for spoilt in (
        {"codes": {CODE: {}}, "width": 1},
        [],
        shown("a") | {"width": 0},
        shown("a") | {"at": [1]},
    ):
        with pytest.raises(SpreadError, match=r"pooled\.json"):
            experience_of(json.dumps(data | {"persons": spoilt or 5}).encode())


def test_two_who_look_are_told_apart_from_the_method_as_by_counting_all_cases():
    """Against enumeration: in each building the method's odds are unknown, and both share them."""
    rng, logs = np.random.default_rng(1), np.log(ODDS)
    people = [log_on_grid(width) for width in WIDTHS]
    of_width = -0.5 * (np.log(WIDTHS / PEOPLE.central) / 0.7) ** 2
    method = np.exp(-0.5 * (logs / 0.8) ** 2)
    joint = np.logaddexp.reduce([w + p[:, None] + p[None, :] for w, p in zip(of_width, people, strict=True)])
    exact, shown = 0.0, {}
    for k in range(12):
        tried = rng.integers(3, 9, size=2)
        own = 0.8 * rng.standard_normal()
        found = rng.binomial(tried, 1.0 / (1.0 + np.exp(-own - np.array([0.0, -1.1]))))
        at = logs[:, None] + logs  # (method, person)
        each = [
            f * -np.logaddexp(0, -at) + (n - f) * -np.logaddexp(0, at)
            for f, n in zip(found, tried, strict=True)
        ]
        like = np.log(np.einsum("m,ma,mb->ab", method, np.exp(each[0]), np.exp(each[1])))
        chance = np.exp(joint + like - (joint + like).max()).ravel()
        cells = rng.choice(chance.size, size=1000, p=chance / chance.sum())
        draws = [LETTERS[c // len(ODDS)] + LETTERS[c % len(ODDS)] for c in cells]
        shown[f"b{k}"] = {"looks": {"x": 1, "y": 1}, "draws": draws}
        exact = exact + like
    width, sites = likelihoods_of(shown)
    prior = log_on_grid(width)
    true = np.exp(prior[:, None] + prior[None, :] + exact - exact.max())
    for axis, code in ((1, "x"), (0, "y")):
        found = prior + sum(sites[code].values())
        share, got = (one / one.sum() for one in (true.sum(axis=axis), np.exp(found - found.max())))
        means = share @ logs, got @ logs
        widths = [np.sqrt(one @ (logs - mean) ** 2) for one, mean in zip((share, got), means, strict=True)]
        assert means[1] == pytest.approx(means[0], abs=0.15), code
        assert 0.7 < widths[1] / widths[0] < 1.3, code


def test_what_the_firm_showed_of_somebody_is_their_prior_in_a_building(firm):
    places, _, asked = firm
    key = places.keys()[0]
    found = []
    for mean in (-1.5, 1.5):
        told = {"format": 1, "on": "2026-01-01", "buildings": 5, "in_use": {}}
        told["persons"] = shown("x", "y", code="T1", mean=mean, precision=100.0)
        places.keep_own(POOLED_FILE, json.dumps(told))
        assert fit_one(places.address, key, asked).state == "fitted"
        found.append(session_of(places, key, asked)[0].view.posterior.odds.people["T1"])
    assert np.log(found) == pytest.approx([-1.5, 1.5], abs=0.5)
    assert persons_believed(None) == {}


def test_it_goes_into_no_export_page_paper_or_office(firm, tmp_path):
    """A code that stands in pooled.json and in no log is in no file that leaves the firm's own two."""
    places, folder, asked = firm
    choose(places, by_person=True)
    learn(places, asked.on)
    told = json.loads(places.own(POOLED_FILE))
    places.keep_own(POOLED_FILE, json.dumps(told | {"persons": shown(*places.keys()[1:])}))
    key, out, on = places.keys()[0], tmp_path / "out", asked.on.isoformat()
    home = str(folder / key)
    assert fit_one(places.address, key, asked).state == "fitted"
    assert CODE in str(experience_beside(folder / key).believed)
    unit = session_of(places, key, asked)[0].doors()[0].unit
    office = str(tmp_path / "office.db")
    for words in (
        ["export", home, "-o", str(out / "export"), "--on", on],
        [
            "notices",
            home,
            "--unit",
            unit,
            "--kind",
            "prepare",
            "-o",
            str(out / "notices"),
            "--when",
            on,
            "--on",
            on,
        ],
        ["sheets", home, "-o", str(out / "sheets"), "--on", on],
        ["portfolio", "report", str(folder), "-o", str(out / "report"), "--on", on],
        ["office", "init", office],
        ["office", "add", office, home],
        ["office", "take-out", office, key, str(out / "taken")],
    ):
        assert main(words) == 0, words
    shutil.copy(office, out / "office.db")
    written = [path for path in out.rglob("*") if path.is_file()]
    assert {".graphml", ".nc", ".parquet", ".html", ".csv", ".db"} <= {path.suffix for path in written}
    for path in written:
        data = path.read_bytes()
        parts = [data]
        if zipfile.is_zipfile(path):
            with zipfile.ZipFile(path) as file:
                parts += [file.read(name) for name in file.namelist()]
        assert not any(CODE.encode() in part for part in parts), path.name
        if path.suffix == ".parquet":
            assert CODE not in str(pyarrow.parquet.read_table(path).to_pydict())
    # An office is turned on and off like a folder, and forgets like one.
    of_office = places_at(office)
    choose(of_office, by_person=True)
    assert pools_by_person(of_office)
    of_office.keep_own(POOLED_FILE, json.dumps(told | {"persons": shown(key)}))
    load_building(of_office.source(key)).store.keep_beside(TAUGHT_FILE, '{"persons": {"draws": []}}')
    choose(of_office, by_person=False)
    assert not pools_by_person(of_office)
    assert persons_in(of_office.own(POOLED_FILE)) is None
    assert of_office.beside(key, TAUGHT_FILE) == b"{}"

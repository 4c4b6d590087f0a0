"""``import spread`` for other programs, and what outside libraries make of our files."""

import json
import re
import subprocess
import sys
from pathlib import Path

import networkx as nx
import numpy as np
import pytest
from buildings import CODES, ON, SHORT, clear, find, make_building, treatment
from read_back import read_contacts

import spread
from spread.building import load_building
from spread.cli import main
from spread.errors import SettingsError, SpreadError
from spread.report.exchange import draws as draws_module
from spread.report.exchange.bundle import make_export, write_exports
from spread.report.exchange.graph import contacts_graphml, known_contacts
from spread.report.exchange.maps import LAYERS
from spread.trade.routes import ROUTES

ROOT = Path(__file__).parent.parent
ROWS = [clear("101", 60), find("203", 20, evidence="live"), treatment("203", 18)]


@pytest.fixture(scope="module")
def maple(tmp_path_factory):
    folder = make_building(tmp_path_factory.mktemp("library") / "maple-row", ROWS)
    return spread.open(folder, on=ON.isoformat(), settings=SHORT)


@pytest.fixture(scope="module")
def files(maple, tmp_path_factory):
    folder = tmp_path_factory.mktemp("files")
    write_exports(maple.session, folder)
    return folder


def test_the_reprs_speak(maple):
    assert repr(maple) == "<Building Maple Row: 12 units, 2 floors, 3 records, on 2024-05-15>"
    assert repr(maple.posterior).startswith("<Draws of Maple Row: 2 chains of 100 draws, 12 units; level, ")
    simulated = spread.simulate(weeks=10, on=ON)
    assert re.fullmatch(
        r"<Simulation of simulated, 3 floors of 8 doors: 24 units, 10 weeks, \d+ records, "
        r"\d+ infested on 2024-05-19>",
        repr(simulated),
    )


def test_the_doors_are_records_that_pandas_takes(maple):
    pandas = pytest.importorskip("pandas")
    frame = pandas.DataFrame(maple.doors())
    assert sorted(frame["unit"]) == sorted(CODES)
    asked = frame[frame["status"] == "look"]
    assert list(asked["unit"]) == spread.rank(maple)
    assert (asked["chance_of_find"].diff().dropna() <= 1e-4).all(), "best first, to the digits printed"
    assert maple.why("203").unit == "203"
    with pytest.raises(SpreadError, match="there is no unit '999'"):
        maple.why("999")


def test_the_benefit_is_another_order_of_the_same_doors(maple):
    doors = spread.rank(maple, order="benefit")
    assert sorted(doors) == sorted(spread.rank(maple))
    worth = {row["unit"]: row["per_hour"] for row in maple.doors()}
    assert doors == sorted(doors, key=lambda unit: -worth[unit])


def test_the_graph_has_places_chances_and_hazards_and_is_drawn_in_three_lines(maple, monkeypatch):
    pyplot = pytest.importorskip("matplotlib.pyplot")
    pyplot.switch_backend("Agg")
    graph = maple.contacts
    nx.draw(graph, dict(graph.nodes(data="pos")), node_color=[p for _, p in graph.nodes(data="chance")])
    pyplot.close("all")
    assert len({tuple(np.round(pos, 6)) for _, pos in graph.nodes(data="pos")}) == len(CODES), (
        "none hides another"
    )
    chances = maple.session.chances()
    for unit, node in graph.nodes(data=True):
        assert node["chance"] == chances[unit]
        assert node["hazard"] > 0.0
    rates = dict(zip(ROUTES, maple.view.dynamics.rates, strict=True))
    for a, b, edge in graph.edges(data=True):
        assert edge["hazard"] == pytest.approx(edge["exposure"] * rates[edge["route"]])
        # One of the two must be infested, and then it passes with no more than the hazard.
        assert 0.0 <= edge["chance"] <= edge["hazard"] * (chances[a] + chances[b]) * 1.5 + 1e-3
    assert "chance" not in maple.session.contacts.nodes["101"], "the session's own graph is left alone"


def test_the_chance_of_an_edge_by_hand(maple):
    """Mean over draws, written out: passes if one end sheds and the other is clear."""
    view, total = maple.view, 0.0
    edge = maple.contacts.edges["203", "205", "wall"]
    i, j = (view.network.index[unit] for unit in ("203", "205"))
    for draw, weight in zip(view.posterior.draws, view.posterior.weights, strict=True):
        for source, target in ((i, j), (j, i)):
            if draw[target] == 0:
                total += weight * (1.0 - np.exp(-edge["hazard"] * view.dynamics.shedding[draw[source]]))
    assert edge["chance"] == pytest.approx(total, rel=1e-9)


def test_chains_keep_their_draws(maple):
    draws, posterior = maple.posterior, maple.view.posterior
    level = draws["level"]
    assert level.dims == ("chain", "draw", "unit")
    assert level.values.shape == (2, 100, len(CODES))
    assert (level.values[1, 0] == posterior.draws[100]).all(), "the second chain begins where the first ends"
    assert list(draws.labels(level)["unit"]) == list(CODES)
    assert np.shares_memory(level.values, posterior.draws), "no second copy"


def test_xarray_takes_the_draws_with_their_labels(maple):
    pytest.importorskip("xarray")
    data = maple.posterior.to_xarray()
    assert (
        data["level"].sel(chain=1, draw=3, unit="203").item() == maple.posterior["level"].values[1, 3, 7 + 1]
    )
    assert data["rate"].dims == ("chain", "draw", "source")


def test_xarray_opens_the_file_as_a_tree_of_groups(maple, files):
    xarray = pytest.importorskip("xarray")
    with xarray.open_datatree(files / "draws.nc", engine="h5netcdf") as tree:
        assert set(tree.children) == {"posterior", "sample_stats", "summary"}
        chance = tree["summary"]["chance_by_week"].isel(week=-1)
        assert chance.sel(unit="203").item() == pytest.approx(maple.session.chances()["203"])
        assert tree["sample_stats"]["log_weight"].dims == ("chain", "draw")


@pytest.mark.filterwarnings("ignore")
def test_arviz_opens_the_draws_and_agrees_with_us(maple, files):
    arviz = pytest.importorskip("arviz")
    data = arviz.from_netcdf(files / "draws.nc", engine="h5netcdf")
    posterior, view = data.posterior, maple.view.posterior
    assert posterior["level"].dims == ("chain", "draw", "unit")
    summary = arviz.summary(data, var_names=["rate"], kind="stats", hdi_prob=0.9, round_to="none")
    assert summary["mean"].to_numpy() == pytest.approx(view.rates.mean(axis=0), rel=1e-6)
    infested = (posterior["level"] > 0).mean(["chain", "draw"])
    assert infested.to_numpy() == pytest.approx((view.draws > 0).mean(axis=0))
    # Our chances are averages of conditional chances: both agree to the noise of 200 draws.
    assert np.abs(infested.to_numpy() - view.chance).max() < 0.15
    # R-hat without ranks, as ours, of the logarithm of each rate, as ours.
    logs = np.log(np.maximum(posterior["rate"], 1e-300))
    theirs = float(arviz.rhat(logs, method="split")["rate"].max())
    assert theirs == pytest.approx(view.diagnostics.rhat_worst_rate, abs=1e-6)
    interval = data.summary["infested_interval"].isel(week=-1).to_numpy()
    low, median, high = np.quantile(
        posterior["infested_units"].isel(week=-1), (0.05, 0.5, 0.95), method="inverted_cdf"
    )
    assert list(interval) == [low, median, high]


def test_pandas_reads_the_parquet_and_no_draw_is_lost(maple, files):
    pandas = pytest.importorskip("pandas")
    frame = pandas.read_parquet(files / "draws.parquet")
    assert len(frame) == 2 * 100 * len(CODES)
    level = frame.set_index(["chain", "draw", "unit"])["level"]
    assert level[1, 5, "104"] == maple.posterior["level"].values[1, 5, CODES.index("104")]
    rates = pandas.read_parquet(files / "rates.parquet")
    assert rates.groupby("source", observed=True)["rate"].mean()["wall"] == pytest.approx(
        maple.view.dynamics.rates[0]
    )
    bands = pandas.read_parquet(files / "intervals.parquet")
    assert (bands["low"] <= bands["median"]).all()
    assert (bands["median"] <= bands["high"]).all()
    assert set(bands["quantity"]) == {"infested_units", "rate"}


def test_the_schema_keeps_a_stack_a_text_in_pandas(files):
    pandas = pytest.importorskip("pandas")
    kinds = {"string": "string", "number": "float64", "integer": "Int64"}
    for name in ("units", "records"):
        fields = json.loads((files / f"{name}.schema.json").read_text())["fields"]
        frame = pandas.read_csv(
            files / f"{name}.csv",
            dtype={one["name"]: kinds[one["type"]] for one in fields if one["type"] in kinds},
            parse_dates=[one["name"] for one in fields if one["type"] == "date"],
        )
        assert list(frame.columns) == [one["name"] for one in fields]
        for one in fields:
            if one["type"] == "date" and frame[one["name"]].notna().any():
                assert frame[one["name"]].dtype.kind == "M"
        if name == "units":
            assert frame["stack"].iloc[0] == "01"
    plain = pandas.read_csv(files / "units.csv")
    assert plain["stack"].iloc[0] == 1, "the trap that the schema is for"


def test_networkx_reads_chance_and_status_from_the_graphml(maple, files):
    graph = nx.read_graphml(files / "contacts.graphml")
    for unit, node in graph.nodes(data=True):
        assert node["chance"] == pytest.approx(maple.contacts.nodes[unit]["chance"])
    assert graph.nodes["203"]["status"] == "revisit"
    known = known_contacts(maple.session)
    assert nx.utils.graphs_equal(read_contacts(contacts_graphml(known)), known)


def test_a_gis_opens_the_geopackage_layer_by_layer(maple, files):
    geopandas = pytest.importorskip("geopandas")
    pyogrio = pytest.importorskip("pyogrio")
    layers = {name for name, _ in pyogrio.list_layers(files / "building.gpkg")}
    assert layers == {layer for layer, _ in LAYERS.values()} - {"commons", "lifts"}
    units = geopandas.read_file(files / "building.gpkg", layer="units").set_index("id")
    assert units.loc["203", "last_find"].date() == ROWS[1].when
    assert units["stack"].loc["101"] == "01"
    assert units.geometry.area.to_numpy() == pytest.approx([maple.plan.units[u].area for u in units.index])
    contacts = geopandas.read_file(files / "building.gpkg", layer="contacts")
    assert len(contacts) == maple.contacts.number_of_edges()
    assert contacts.geometry.is_valid.all()
    assert {"a", "b", "route", "metres", "hazard", "chance"} <= set(contacts.columns)
    walls = contacts[contacts["route"] == "wall"]
    wall = walls[(walls["a"] == "101") & (walls["b"] == "103")].iloc[0]
    assert wall["metres"] == pytest.approx(maple.contacts.edges["101", "103", "wall"]["metres"], abs=0.01)


@pytest.mark.parametrize(
    ("form", "module"), [("netcdf", "h5netcdf"), ("parquet", "pyarrow"), ("gpkg", "pyogrio")]
)
def test_a_missing_extra_is_one_sentence(maple, monkeypatch, form, module):
    whole = draws_module.import_module

    def without(name):
        if name.startswith(module):
            raise ImportError(name)
        return whole(name)

    monkeypatch.setattr(draws_module, "import_module", without)
    with pytest.raises(SpreadError, match=rf"needs the package {module}[^;]*; pip install 'spread\[data\]'"):
        make_export(maple.session, form)


def test_a_simulation_is_seeded_and_can_be_opened(tmp_path):
    one, two, other = (spread.simulate(floors=2, doors=6, weeks=30, seed=s) for s in (3, 3, 4))
    assert one.records == two.records
    assert (one.truth == two.truth).all()
    assert (one.truth != other.truth).any()
    assert one.truth.shape == (12, 30)
    folder = one.save(tmp_path / "new")
    building = load_building(folder)
    assert building.log.rows == one.records
    assert list(building.plan.units) == list(one.plan.units)
    assert max(row.when for row in one.records) <= one.on
    assert list(spread.simulate(folder, weeks=5).plan.units) == list(one.plan.units)
    with pytest.raises(SpreadError, match="it is there and not empty"):
        one.save(folder)
    with pytest.raises(SettingsError, match="weeks is 0, expected 1 to 520"):
        spread.simulate(weeks=0)
    with pytest.raises(SettingsError, match="'soon' is not a day"):
        spread.simulate(on="soon")


@pytest.mark.parametrize("module", ["spread", "spread.cli"])
def test_python_runs_the_module_as_the_command(module, tmp_path):
    def run(*words):
        return subprocess.run(
            [sys.executable, "-m", module, *words],
            capture_output=True,
            text=True,
            cwd=ROOT,
            timeout=120,
            check=False,
        )

    assert "COMMAND" in run("--help").stdout
    bad = run("doors", str(tmp_path / "nowhere"))
    assert (bad.returncode, bad.stdout) == (2, "")
    assert "there is no such folder" in bad.stderr


def test_importing_the_package_loads_nothing_heavy():
    code = "import spread, sys; print(*sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, cwd=ROOT, check=True)
    assert not {"numpy", "numba", "networkx", "shapely"} & set(done.stdout.split())
    assert set(spread.__all__) <= set(dir(spread))
    with pytest.raises(AttributeError, match="no attribute 'nothing'"):
        spread.nothing  # noqa: B018
    assert spread.__version__


def test_the_api_page_names_everything_public_and_its_signature():
    done = subprocess.run(
        [sys.executable, "-m", "docs.make_api", "--check"],
        capture_output=True,
        text=True,
        cwd=ROOT,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    page = (ROOT / "docs" / "api.md").read_text()
    assert all(f"spread.{name}" in page for name in spread.__all__)


def test_the_command_writes_what_is_named(maple, tmp_path, monkeypatch, capsys):
    monkeypatch.setattr("spread.session.FitSettings", lambda: SHORT)
    folder = str(maple.session.building.folder)
    out = tmp_path / "out"
    assert (
        main(
            [
                "export",
                folder,
                "--on",
                ON.isoformat(),
                "-o",
                str(out),
                "--format",
                "netcdf",
                "--format",
                "parquet",
            ]
        )
        == 0
    )
    assert sorted(path.name for path in out.iterdir()) == [
        "draws.nc", "draws.parquet", "intervals.parquet", "rates.parquet",
    ]  # fmt: skip
    assert capsys.readouterr().out.count("Wrote") == 4

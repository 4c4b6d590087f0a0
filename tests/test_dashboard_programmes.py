"""The programme page without a browser."""

import time

import pytest
from buildings import make_building, open_building

from dashboard import create_app
from dashboard.pages.programmes import prices_of
from spread.errors import SettingsError
from spread.programmes.reading import preset
from spread.programmes.run import RunSettings, simulate


@pytest.fixture(scope="module")
def maple(tmp_path_factory):
    return open_building(make_building(tmp_path_factory.mktemp("programmes") / "maple-row", []))


def test_runs_in_pieces_are_those_of_the_package_and_prices_simulate_nothing(maple):
    server = create_app(maple).server
    client, work = server.test_client(), server.extensions["programmes"]
    keys = ["complaint", "survey-brief"]
    assert client.post("/programmes/start", json={"programmes": keys, "runs": 40, "weeks": 26}).json["ok"]
    for _ in range(300):
        now = client.post("/programmes/now", json={}).json
        if not now["running"]:
            break
        time.sleep(0.1)
    assert (now["problem"], now["done"]) == ("", 40)
    pace = maple.building.settings.pace
    whole = simulate(maple.view, [preset(k) for k in keys], RunSettings(weeks=26, runs=40), pace=pace)
    for key in keys:
        assert (work.done.of(key).counts == whole.of(key).counts).all()
    dear = client.post("/programmes/now", json={"hour": "500"}).json
    assert dear["shown"]["rows"][:-1] == now["shown"]["rows"][:-1]
    assert dear["shown"]["rows"][-1] != now["shown"]["rows"][-1]
    assert dear["simulations"] == 1


def test_one_programme_or_a_price_in_words_is_refused_in_a_sentence(maple):
    client = create_app(maple).server.test_client()
    asked = {"programmes": ["complaint"], "runs": 40, "weeks": 26}
    assert client.post("/programmes/start", json=asked).json["problem"] == "Choose two to four programmes."
    with pytest.raises(SettingsError):
        prices_of(maple, {"hour": "lots"})
    changed = prices_of(maple, {"treatment": "7"})
    assert set(changed.material.values()) == {7.0}

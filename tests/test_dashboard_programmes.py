"""The programme page without a browser."""

import re
import tomllib

import numpy as np
import pytest
from buildings import TOML, find, make_building, open_building

import dashboard.programmes.work as at_work
from dashboard import create_app
from dashboard.programmes.prices import from_file, to_file, typed_prices, usual_prices
from spread.errors import SettingsError
from spread.programmes import columns as c
from spread.programmes.money import KINDS, MOST, Prices, losses, parse_prices, tables_of_prices
from spread.programmes.price_list import price_list, value_of, with_values
from spread.programmes.reading import preset
from spread.programmes.run import RunSettings, simulate
from spread.words import ENGLISH
from spread.words.programmes import price_source

KEYS = ["complaint", "survey-brief"]
MONEY_ROWS = {"Cost of the work, US$", "With the treatment of what is left, US$"}


@pytest.fixture(scope="module")
def maple(tmp_path_factory):
    return open_building(make_building(tmp_path_factory.mktemp("programmes") / "maple-row", []))


@pytest.fixture(scope="module")
def server(maple):
    return create_app(maple).server


@pytest.fixture(scope="module")
def ran(server):
    """A client whose comparison is done."""
    client, work = server.test_client(), server.extensions["programmes"]
    assert client.post("/programmes/start", json={"programmes": KEYS, "runs": 40, "weeks": 26}).json["ok"]
    assert work.wait(300)
    return client


def now(client, **typed):
    return client.post("/programmes/now", json=typed).json


def test_runs_are_those_of_the_package_and_prices_simulate_nothing(maple, server, ran):
    before = now(ran)
    assert (before["problem"], before["done"], before["running"]) == ("", 40, False)
    pace = maple.building.settings.pace
    whole = simulate(maple.view, [preset(k) for k in KEYS], RunSettings(weeks=26, runs=40), pace=pace)
    for key in KEYS:
        assert (server.extensions["programmes"].done.of(key).counts == whole.of(key).counts).all()
    dear = now(ran, hour="500")
    old, new = ({row[0]: row[1:] for row in each["shown"]["rows"]} for each in (before, dear))
    assert {name for name in old if old[name] != new[name]} == MONEY_ROWS
    slow = now(ran, **{"knock": "90"})
    new = {row[0]: row[1:] for row in slow["shown"]["rows"]}
    assert {name for name in old if old[name] != new[name]} == {
        *MONEY_ROWS,
        "Technician hours",
        "Crew-days, a trip each",
    }
    assert dear["simulations"] == slow["simulations"] == 1


def test_a_stop_keeps_the_pieces_that_are_done(maple, monkeypatch):
    work = at_work.Work(maple)

    def stopped_after_two(*given, partial, **more):
        def count(done):
            partial(done)
            if done.done == 40:
                work.stop()

        return simulate(*given, partial=count, **more)

    monkeypatch.setattr(at_work, "simulate", stopped_after_two)
    chosen, settings = [preset(k) for k in KEYS], RunSettings(weeks=26, runs=1000, chunk=20)
    assert work.start(chosen, settings)
    assert work.wait(300)
    assert (work.done.done, work.done.stopped) == (40, True)
    whole = simulate(maple.view, chosen, settings, pace=maple.building.settings.pace)
    for key in KEYS:
        assert (work.done.of(key).counts == whole.of(key).counts[:40]).all()


def test_one_programme_or_an_odd_number_of_runs_is_refused_in_a_sentence(maple):
    client = create_app(maple).server.test_client()
    asked = {"programmes": ["complaint"], "runs": 40, "weeks": 26}
    assert client.post("/programmes/start", json=asked).json["problem"] == "Choose two to four programmes."
    asked = {"programmes": KEYS, "runs": 7, "weeks": 26}
    assert "from the lists" in client.post("/programmes/start", json=asked).json["problem"]


def test_every_number_of_the_money_is_on_the_list_with_its_source():
    usual = Prices()
    keys = {price.key for price in price_list(usual)}
    fields = set()
    for name in MOST:
        value = getattr(usual, name)
        fields |= {name} if isinstance(value, float) or value is None else {f"{name}.{k}" for k in value}
    looks_without_a_check = {f"check.{m}" for m, minutes in usual.check.items() if minutes == 0.0}
    assert keys == fields - looks_without_a_check
    assert all(price_source(price, ENGLISH) and price.mark for price in price_list(usual))
    assert {price.mark for price in price_list(usual)} == {"published", "judged", "second-hand", "yours"}


ELSEWHERE = {"day_hours", "crew_days_a_week", "discount", "reserve"}
"""What changes trips, runs and what is weighed, which ``test_crew.py`` holds, and no price of a count."""


@pytest.mark.parametrize(
    "price",
    [price for price in price_list(Prices()) if price.key not in ELSEWHERE],
    ids=lambda price: price.key,
)
def test_every_price_of_the_list_changes_the_money(price):
    """A price that moves nothing would be a field that lies."""
    usual = with_values(Prices(), {"survey": 15.0})
    base = usual if price.key == "survey" else Prices()
    changed = with_values(base, {price.key: value_of(base, price.key) + 7.0})
    before, after = tables_of_prices(base), tables_of_prices(changed)
    lost = [losses(np.ones((1, c.WIDTH), int), each)[0] for each in (base, changed)]
    assert any((a != b).any() for a, b in zip(before, after, strict=True)) != (lost[0] != lost[1])
    assert (lost[0] != lost[1]) == (price.key == "loss"), "what an owner loses is in no cost"
    assert before[0].shape[1] == len(KINDS)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("lots", "is no number; write digits alone"),
        ("1,200", "can be read in two ways"),
        ("1.200,50", "can be read in two ways"),
        ("-3", "is out of range; write a number from 0 to 1,000,000"),
        ("nan", "is out of range"),
        ("inf", "is out of range"),
        ("9" * 400, "is out of range"),
    ],
)
def test_a_bad_number_gets_a_sentence_and_the_usual_goes_on(ran, maple, text, words):
    typed = typed_prices(usual_prices(maple), {"hour": text, "fee.dog": "9"})
    assert words in typed.problems["hour"]
    assert typed.problems["hour"].startswith("A technician's hour: ")
    assert typed.problems["hour"].endswith("Until then 50 is used.")
    assert (typed.prices.hour, typed.prices.fee["dog"]) == (50.0, 9.0)
    seen = now(ran, hour=text)
    assert words in seen["bad"]["hour"]
    assert seen["shown"]["rows"] == now(ran)["shown"]["rows"]


def test_a_decimal_comma_is_a_decimal_point(maple):
    assert typed_prices(usual_prices(maple), {"hour": "62,5", "loss": "0,125"}).values == {
        "hour": 62.5,
        "loss": 0.125,
    }


def test_prices_come_from_a_file_and_go_to_one(ran, maple):
    text = 'currency = "EUR"\nhour = 70\n[fee]\ndog = 12.5\n[material]\nspray = 9\n'
    sent = {"name": "prices.toml", "text": text}
    values = ran.post("/programmes/prices", json=sent).json["values"]
    assert values == {"hour": "70", "fee.dog": "12.5", "material.spray": "9", "currency": "EUR"}
    assert now(ran, **values)["shown"]["currency"] == "EUR"
    kept = ran.get("/programmes/prices.toml", query_string=values)
    assert kept.headers["Content-Disposition"] == 'attachment; filename="prices.toml"'
    assert tomllib.loads(kept.text) == tomllib.loads(text)
    again = parse_prices(tomllib.loads(to_file(maple, values)), "prices.toml")
    assert again == typed_prices(usual_prices(maple), values).prices


def test_a_bad_file_of_prices_is_one_sentence_a_problem(ran, maple):
    sent = {"name": "ours.toml", "text": 'hour = "ten"\n[fee]\ncat = 1\n'}
    problem = ran.post("/programmes/prices", json=sent).json["problem"]
    assert len(problem.splitlines()) == 2
    assert all(line.startswith("ours.toml, ") for line in problem.splitlines())
    with pytest.raises(SettingsError, match="not TOML"):
        from_file(maple, "hour = = 3", "ours.toml")
    assert ran.get("/programmes/prices.toml?hour=lots").status_code == 409


def test_the_buildings_own_prices_are_marked_as_its_own(tmp_path):
    folder = make_building(tmp_path / "maple", [])
    (folder / "prices.toml").write_text("hour = 61\n", encoding="utf-8")
    usual = usual_prices(open_building(folder))
    marks = {price.key: price.mark for price in price_list(usual)}
    assert (usual.hour, marks["hour"], marks["knock"]) == (61.0, "own", "judged")


def test_a_verdict_is_said_once_and_moves_with_the_prices(ran):
    bugs, cost = now(ran)["shown"]["duels"][0][1:]
    for said in (bugs, cost):
        assert len(re.findall("cannot be told apart|(?:fewer|less|more) on average", said)) == 1
    apart = now(ran, **{"look.brief-visual": "480", "hour": "10000"})["shown"]
    assert " more on average" in apart["duels"][0][2]
    assert cost != apart["duels"][0][2]
    assert apart["verdict"][0].startswith("Complaints only")


def test_fees_make_the_bill_and_no_owner_sees_what_the_work_costs(ran, server):
    plain = now(ran)["shown"]
    billed = now(ran, **{"offer.unit_month": "10", "offer.retreats": "yes"})["shown"]
    names = {row[0] for row in billed["rows"]}
    assert "Price by the fee schedule, US$" in names
    assert "Price by the fee schedule, US$" not in {row[0] for row in plain["rows"]}
    assert server.extensions["programmes"].wait_held(billed["chosen"]) is not None
    held = now(ran, **{"offer.unit_month": "10"})["shown"]
    assert any("doing nothing" in line for line in held["verdict"])
    assert held["turns"]
    page = ran.get("/programmes/proposal", query_string={"offer.unit_month": "10", "hour": "77"}).text
    assert "A unit and month" in page
    assert "Cost of the work" not in page
    bad = ran.get("/programmes/offer.toml", query_string={"offer.unit_month": "lots"})
    assert (bad.status_code, "is no number" in bad.text) == (409, True)
    kept = ran.get("/programmes/offer.toml", query_string={"offer.unit_month": "10"})
    assert tomllib.loads(kept.text) == {"fees": {"unit_month": 10.0}}


def test_a_copy_for_a_board_names_no_unit_and_a_copy_in_spanish_is_spanish(ran, maple):
    units = maple.plan.units
    page = ran.get("/programmes/proposal", query_string={"board": "yes"}).text
    page = re.sub(r"US\$[^<]*", "", page)  # an amount may read as the number of a unit
    assert not [unit for unit in units if re.search(rf"\b{unit}\b", page)]
    assert [unit for unit in units if unit in ran.get("/programmes/proposal").text]
    spanish = ran.get("/programmes/proposal", query_string={"language": "es"}).text
    assert 'lang="es"' in spanish
    assert "Propuesta: un programa contra las chinches" in spanish
    for english in ("The building", "infested unit-weeks", "on average", "Against", "After a find"):
        assert english not in spanish, english


def test_the_proposal_is_made_of_the_runs_and_prices_of_the_page(ran, server, maple):
    query = {"choose": "survey-brief", "hour": "77"}
    page = ran.get("/programmes/proposal", query_string=query)
    assert page.status_code == 200
    assert "in the same 40 futures over 26 weeks" in page.text
    assert "1 is the firm&#x27;s own" in page.text
    chosen = now(ran, hour="77")["shown"]["chosen"]
    assert ("against this verdict" in page.text) == (chosen != "survey-brief")
    median = server.extensions["programmes"].done
    assert now(ran)["simulations"] == 1
    assert median.done == 40
    for asked, words in (
        ({"choose": "nothing"}, "start a comparison"),
        ({"choose": "complaint-ring"}, "choose one of its programmes"),
        ({"choose": "complaint", "hour": "lots"}, "is no number"),
    ):
        refused = ran.get("/programmes/proposal", query_string=asked)
        assert refused.status_code == 409
        assert words in refused.text


def test_the_proposal_as_a_pdf(ran):
    pypdf = pytest.importorskip("pypdf")
    import io

    pytest.importorskip("typst")
    sent = ran.get("/programmes/proposal.pdf", query_string={"choose": "complaint"})
    assert sent.headers["Content-Disposition"] == 'attachment; filename="proposal.pdf"'
    text = "\n".join(page.extract_text() for page in pypdf.PdfReader(io.BytesIO(sent.data)).pages)
    assert "Complaints only" in text


def test_runs_of_a_building_that_has_changed_are_not_proposed(tmp_path):
    folder = make_building(tmp_path / "maple", [find("102", 20)], toml=TOML)
    session = open_building(folder)
    server = create_app(session).server
    client, work = server.test_client(), server.extensions["programmes"]
    client.post("/programmes/start", json={"programmes": KEYS, "runs": 40, "weeks": 26})
    assert work.wait(300)
    assert not now(client)["old"]
    session.record({"unit": "104", "kind": "inspection", "method": "brief-visual", "found": "no"})
    assert now(client)["old"]
    refused = client.get("/programmes/proposal", query_string={"choose": "complaint"})
    assert refused.status_code == 409
    assert "new answers" in refused.text


def test_the_page_runs_by_the_clearance_rule_of_its_building(tmp_path):
    toml = TOML + "\n[clearance]\nperiods = 6\nheavy_periods = 8\n"
    session = open_building(make_building(tmp_path / "maple", [], toml=toml))
    server = create_app(session).server
    server.test_client().post("/programmes/start", json={"programmes": KEYS, "runs": 40, "weeks": 26})
    work = server.extensions["programmes"]
    assert work.wait(300)
    assert {runs.programme.clearance.periods for runs in work.done.runs} == {6}

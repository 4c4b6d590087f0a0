"""An accepted programme: kept as it was chosen, held to its forecast, and never calmly without ground."""

import dataclasses
import datetime as dt
import io
import json
from dataclasses import replace

import numpy as np
import pytest
from buildings import CODES, ON, clear, find, make_building, open_building, report, row, treatment, view_of
from hypothesis import given, settings
from hypothesis import strategies as st
from pypdf import PdfReader
from small import LIVED_IN, small_session
from test_programmes_results import seeded_view

from dashboard import create_app
from proofs.held import CASES, actual_of_run
from spread.cli import main
from spread.programmes.accepted import (
    COUNTED,
    INFESTED,
    PAID,
    accepted_in,
    accepted_of,
    accepted_of_text,
    newest_forecast,
    renewed,
    standing,
    text_of,
)
from spread.programmes.actual import Actual, actual_of
from spread.programmes.begin import begin_of
from spread.programmes.choice import choice_of
from spread.programmes.fees import Fees
from spread.programmes.futures import tables_of_runs
from spread.programmes.held import LEAST_MONTHS, YEAR, held_to
from spread.programmes.money import Prices
from spread.programmes.offer import Terms
from spread.programmes.reading import PRESETS, preset
from spread.programmes.results import summarise
from spread.programmes.run import RunSettings, simulate
from spread.programmes.tables import tables_of
from spread.records.items import read_items
from spread.records.texts import folder_programmes
from spread.report.document import texts_of
from spread.report.held import held_view
from spread.report.month import month_data, month_document, month_text, month_view
from spread.report.pdf import write_pdf
from spread.trade.pace import Pace
from spread.words import ENGLISH, Voice, say
from spread.words.held import rows, why_lines

TERMS = Terms(fees=Fees(set_up=100.0, unit_month=2.0, visit=5.0, treatment=150.0, refund=0.5))
KEY = "complaint-ranked"
LONG = RunSettings(52, 200)


@pytest.fixture(scope="module")
def view():
    return seeded_view()


@pytest.fixture(scope="module")
def done(view):
    return simulate(view, [preset("complaint"), preset(KEY)], LONG, pace=Pace())


@pytest.fixture(scope="module")
def accepted(view, done):
    return accepted_of(view, done, KEY, prices=Prices(), terms=TERMS, by="M1")


# -- what is kept


def test_what_is_kept_are_the_figures_that_were_proposed(view, done, accepted):
    """No second simulation: bands, bill and both chances of nil are those of page, document and command."""
    told = summarise(done, Prices(), fees=TERMS.fees).of(KEY)
    verdict = choice_of(done, Prices(), now="complaint", by_week=52, fees=TERMS.fees, proposed=KEY)
    ends = list(accepted.ends)
    assert (ends[0], ends[2], ends[-1]) == (4, 13, 52)
    infested = [list(band) for band in accepted.bands[INFESTED]]
    assert infested == told.infested[[0, 2, 4]][:, ends].T.tolist()
    paid = accepted.bands[PAID][-1]
    assert paid == pytest.approx(
        (told.figures["bill"].low90, verdict.paid.median, verdict.paid.high90), abs=0.01
    )
    assert accepted.bands["visits"][-1][1] == told.figures["visits"].median
    assert (accepted.nil_by, accepted.nil_at_end) == (verdict.nil_by.chance, verdict.nil_at_end.chance)
    assert (
        simulate(view, [preset(KEY)], LONG, pace=Pace()).runs[0].counts.tolist()
        == done.of(KEY).counts.tolist()
    )
    for month in range(1, 13):
        some = done.of(KEY).kept.up_to(month)
        assert (np.diff(some.by_month.sum(axis=2), axis=1) >= 0).all()
    assert (done.of(KEY).kept.by_month[:, -1, :20] <= done.of(KEY).counts[:, :20]).all()
    assert done.of(KEY).kept.by_month[:, -1, 0].tolist() == done.of(KEY).counts[:, 0].tolist()


@pytest.mark.parametrize("key", PRESETS)
def test_a_programme_comes_back_as_it_was_accepted(accepted, view, key):
    done = simulate(view, [preset(key)], RunSettings(8, 20), pace=Pace())
    one = accepted_of(view, done, key, prices=Prices(hour=71.0), terms=TERMS, by="M1")
    again = accepted_of_text(text_of(one).body)
    assert again is not None
    assert again.id == one.id
    assert (again.programme, again.terms) == (done.runs[0].programme, TERMS)
    assert again.priced.hour == 71.0
    assert all((again.draws[name] == one.draws[name]).all() for name in (*COUNTED, INFESTED))
    same = [f.name for f in dataclasses.fields(one) if f.name not in ("draws", "settings")]
    assert [getattr(again, name) for name in same] == [getattr(one, name) for name in same]


def test_a_text_of_somebody_else_is_no_programme_and_no_fault(accepted):
    body = json.loads(text_of(accepted).body)
    for name in body:
        for bad in (None, "x", -1, [], {}, "9" * 400, float("nan"), [[1, 2, 3]], "2026-99-99", "9999-12-31"):
            accepted_of_text(json.dumps({**body, name: bad}))
        if name not in ("id",):
            assert accepted_of_text(json.dumps({k: v for k, v in body.items() if k != name})) is None
    for bad in ("", "[]", "{}", "null", "[" * 9999, '{"ends": 3}'):
        assert accepted_of_text(bad) is None
    assert accepted_of_text(json.dumps({**body, "draws": "A" * 100})) is None
    assert accepted_of_text(json.dumps({**body, "ends": [5, 4]})) is None


def test_what_is_kept_stays_and_a_line_that_a_kill_cut_off_was_never_said(tmp_path, view, accepted):
    log = tmp_path / "records.csv"
    texts = folder_programmes(log)
    later, accepted = accepted, replace(accepted, on=view.on - dt.timedelta(days=60))
    new = renewed(view, accepted, pace=Pace())
    texts.keep(text_of(accepted))
    texts.keep(text_of(replace(accepted, by="M2")))  # the same again, whoever pressed
    texts.keep(text_of(new))
    path = tmp_path / "records.csv.programmes"
    whole = path.read_bytes()
    path.write_bytes(whole + b'["cut off')
    other = folder_programmes(log)
    assert [one.id for one in accepted_in(other)] == [accepted.id, new.id]
    other.keep(text_of(later))
    kept = accepted_in(folder_programmes(log))
    assert [one.id for one in kept] == [accepted.id, new.id, later.id]
    assert path.read_bytes().startswith(whole)
    assert not folder_programmes(log).broken
    assert standing(kept) == kept[2]
    assert standing(kept[:2]) == kept[0], "a new forecast takes nobody's place"
    assert newest_forecast(kept, kept[0]) == kept[1]
    assert (new.renews, new.weeks, new.key) == (accepted.id, 52 - 60 // 7, KEY)
    with pytest.raises(Exception, match="accept a programme anew"):
        renewed(view, replace(accepted, on=view.on - dt.timedelta(weeks=60)), pace=Pace())


# -- what came of it


def test_a_log_is_counted_as_runs_are(accepted):
    """A unit under treatment is found once, a door is a visit a day, a monitor is set and read."""
    rows_ = [
        find("101", 100), treatment("101", 95),  # before: under way when it was accepted
        find("101", 80), treatment("101", 79),
        clear("102", 80), row("102", 80, "no-access", "nobody-home"),
        row("103", 70, "monitor", "interceptors", "no", days=14),
        report("104", 66), find("104", 64), report("104", 63), treatment("104", 60),
        treatment("104", 60, "spray", id="twice"), find("104", 46), treatment("104", 45),
        row("105", 60, "no-access", "refused"), row("106", 50, "turnover", "moved-in"),
        row("106", 55, "turnover", "moved-out"),
    ]  # fmt: skip
    one = replace(accepted, on=ON - dt.timedelta(days=90))
    actual = actual_of(view_of(rows_), one)
    assert actual.months == 2
    last = {name: int(counts[-1]) for name, counts in actual.counts.items()}
    # 101 twice, 102 once (two rows of a day), 103 twice (set and read), 104 on four days, 105 once
    assert last == {
        "visits": 2 + 1 + 2 + 4 + 1, "shut": 2, "reports": 1, "finds": 1, "treatments": 3, "again": 0,
        "move-ins": 1,
    }  # fmt: skip
    assert actual.looked == 4


def test_fees_are_worked_out_of_the_log(accepted):
    one = replace(accepted, on=ON - dt.timedelta(days=90))
    nothing = actual_of(view_of(), one)
    some = actual_of(view_of([find("104", 64), treatment("104", 62), clear("102", 61)]), one)
    month = 2.0 * accepted.units
    assert nothing.paid[1] == pytest.approx(100.0 + month * 9 / (365.25 / 12 / 7), abs=0.1)
    assert some.paid[1] - nothing.paid[1] == pytest.approx(3 * 5.0 + 150.0)


def test_encasements_of_the_log_are_paid_where_the_accepted_programme_has_them(accepted):
    by_cost = replace(accepted, on=ON - dt.timedelta(days=90), offer="", by_fees=False)
    settings_ = {**accepted.settings, "treatment": {"method": "combined", "encase": True}}
    left = replace(treatment("104", 62), items=read_items("encasement: intact, at bed 1"))
    log = view_of([find("104", 64), left])
    plain, cased = (actual_of(log, one).paid[1] for one in (by_cost, replace(by_cost, settings=settings_)))
    prices = Prices()
    assert cased - plain == pytest.approx(prices.encasement + prices.encase * prices.hour / 60.0)


# -- a departure


@pytest.fixture(scope="module")
def cases(view):
    """Runs of other luck, as forecast and otherwise, of a building of twelve units."""
    begin = begin_of(view, runs=200, seed=2, pace=Pace())
    tables = tables_of_runs(tables_of(view.dynamics, view.posterior.odds), begin, 2)
    found = {}
    for name, (_, change) in CASES.items():
        now, table = change(begin, tables)
        settings_ = replace(LONG, seed=2)
        made = simulate(view, [preset(KEY)], settings_, pace=Pace(), begin=now, tables=table)
        few = 200 if name == "as forecast" else 50
        found[name] = [(made.runs[0], run) for run in range(few)]
    return found


def departed(accepted, cases, name):
    return [held_to(accepted, actual_of_run(runs, run, YEAR)) for runs, run in cases[name]]


def test_a_building_that_goes_as_forecast_is_called_departed_in_under_a_tenth_of_years(accepted, cases):
    assert np.mean([bool(h.departures) for h in departed(accepted, cases, "as forecast")]) < 0.10


@pytest.mark.parametrize(
    ("name", "cause"), [(n, c) for n, (c, _) in CASES.items() if c in ("access", "arrivals")]
)
def test_departures_are_told_with_their_reason(accepted, cases, name, cause):
    told = departed(accepted, cases, name)
    assert np.mean([bool(h.departures) for h in told]) > 0.9
    named = [h.causes[0].cause for h in told if h.causes]
    assert named.count(cause) > 0.9 * len(told)


def test_what_the_log_does_not_show_is_no_reason(accepted, cases):
    """Bugs that are brought in leave no mark on visits, doors and households."""
    told = [h for h in departed(accepted, cases, "five times as much brought in") if h.departures]
    unknown = [h for h in told if not h.causes]
    assert len(unknown) > len(told) / 2
    assert all("The log does not show why." in list(why_lines(h, ENGLISH)) for h in unknown)


def unready(share, rng, months=12, a_month=6):
    counts = rng.binomial(a_month, share, months).cumsum()
    return as_forecast(months, unprepared=counts, prepared=np.arange(1, months + 1) * a_month - counts)


def test_homes_that_are_not_ready_are_told_where_the_log_says_so():
    """Two of three, where the trade's range ends at 30 %; at that end itself rarely."""
    rng = np.random.default_rng(4)
    told = [held_to(BASE, unready(0.67, rng)) for _ in range(40)]
    assert np.mean([any(one.quantity == "unready" for one in h.departures) for h in told]) > 0.9
    assert all(h.causes[0].cause == "preparation" for h in told if h.departures)
    at_the_end = [held_to(BASE, unready(0.3, rng)).departures for _ in range(100)]
    assert np.mean(list(map(bool, at_the_end))) < 0.05
    # Where a building's own forecast expects as many, that is no departure.
    assert not any(held_to(BASE, unready(0.5, rng), 0.6).departures for _ in range(40))


# -- calm


def made_up(rng, months=12, finds=4.0):
    """A forecast of a larger building, whose counts are drawn and not simulated."""
    base = accepted_base()
    rates = {
        "visits": 40.0, "shut": 6.0, "reports": 3.0, "finds": finds, "treatments": 2.5 * finds,
        "again": 0.1, "move-ins": 4.0,
    }  # fmt: skip
    draws = {
        name: rng.poisson(rate, (300, months)).cumsum(axis=1).astype(np.int32) for name, rate in rates.items()
    }
    draws[INFESTED] = rng.poisson(8.0, (300, months)).astype(np.int32)
    bands = {
        name: tuple(map(tuple, np.quantile(values, (0.05, 0.5, 0.95), axis=0).T.tolist()))
        for name, values in draws.items()
    }
    bands[PAID] = bands["visits"]
    ends = tuple(range(4, 4 * months + 1, 4))
    return replace(base, draws=draws, bands=bands, ends=ends, runs=300, units=90), rates


def accepted_base():
    view = seeded_view()
    done = simulate(view, [preset(KEY)], RunSettings(4, 20), pace=Pace())
    return accepted_of(view, done, KEY, prices=Prices(), terms=Terms())


BASE, RATES = made_up(np.random.default_rng(3))


def as_forecast(months, **more):
    middle = {
        name: np.round(np.arange(1, months + 1) * rate).astype(np.int64) for name, rate in RATES.items()
    }
    infested = tuple(np.random.default_rng(1).poisson(7.0, 100).clip(0, 10) for _ in range(months))
    usual = Actual(middle, (0.0,) * months, infested, np.full(100, 0.01), settled=True, looked=40)
    return replace(usual, **more)


def test_as_promised_is_said_where_there_is_ground():
    held = held_to(BASE, as_forecast(9))
    assert held.verdict == "as-promised"
    assert say(held, ENGLISH).startswith("Up to ")
    assert any("clears no unit" in line for line in why_lines(held, ENGLISH))


@given(
    months=st.integers(0, 12), looked=st.integers(0, 60), settled=st.booleans(), share=st.floats(0.0, 1.3),
    silent=st.integers(0, 3), known=st.booleans(), more=st.integers(0, 30), runs=st.sampled_from([40, 300]),
)  # fmt: skip
@settings(max_examples=150, deadline=None)
def test_as_promised_is_never_said_without_ground(months, looked, settled, share, silent, known, more, runs):
    """Few rows, a month or two, a silent log, few looks, no fit, few futures, more bugs: no calm sentence."""
    actual = as_forecast(months, looked=looked, settled=settled)
    counts = {name: np.round(values * share).astype(np.int64) for name, values in actual.counts.items()}
    if silent and months:
        for values in counts.values():
            values[-silent:] = values[max(0, months - silent - 1)]
    infested = tuple(draws + more if known else draws[:0] for draws in actual.infested)
    actual = replace(actual, counts=counts, infested=infested)
    one = replace(BASE, draws={name: values[:runs] for name, values in BASE.draws.items()})
    held = held_to(one, actual)
    visits = counts["visits"]
    ground = (
        months >= LEAST_MONTHS and looked >= 9 and settled and known and not silent and runs == 300
        and visits[-1] >= 20 and held.seen >= 0.8 and more <= 10 and share > 0.7
    )  # fmt: skip
    if not ground:
        assert held.verdict != "as-promised"
    words = say(held, ENGLISH)
    assert words.startswith("Up to ") == (held.verdict == "as-promised")


def test_fewer_finds_are_called_no_proof():
    actual = as_forecast(12)
    few = {**actual.counts, "finds": actual.counts["finds"] // 8}
    held = held_to(BASE, replace(actual, counts=few))
    assert held.verdict == "departed"
    assert any("no proof of fewer bugs" in line for line in why_lines(held, ENGLISH))


def test_a_second_year_begins_anew(accepted):
    long, _ = made_up(np.random.default_rng(5), months=24)
    held = held_to(long, as_forecast(18))
    assert not held.departures
    assert held.month == 18
    worse = as_forecast(18)
    worse.counts["visits"][12:] = worse.counts["visits"][11]
    found = held_to(long, worse).departures
    assert [one.quantity for one in found if not one.more] == ["visits"]
    assert found[0].month in (13, 14)


# -- where it is shown


@pytest.fixture(scope="module")
def agreed(tmp_path_factory):
    """A small building that accepted a programme half a year ago and has a new forecast of today."""
    session = small_session(tmp_path_factory.mktemp("agreed"), rows=LIVED_IN)
    done = simulate(session.view, [preset(KEY)], RunSettings(52, 100), pace=session.building.settings.pace)
    one = accepted_of(session.view, done, KEY, prices=Prices(), terms=TERMS)
    one = replace(one, on=session.on - dt.timedelta(days=150))
    texts = session.building.store.programmes
    texts.keep(text_of(one))
    texts.keep(text_of(renewed(session.view, one, pace=session.building.settings.pace)))
    return session


def test_the_month_has_the_section_only_where_a_programme_was_accepted(tmp_path, agreed):
    plain = small_session(tmp_path, rows=LIVED_IN)
    assert held_view(plain) is None
    before = month_document(plain, month_view(plain))
    assert not any("accepted programme" in text for text in texts_of(before))
    shown = month_view(agreed)
    assert shown.held is not None
    document = month_document(agreed, shown, board=True)
    texts = " ".join(texts_of(document))
    section = texts[texts.index("Held to the accepted programme") :]
    assert "cannot be told yet" in section or "left the forecast" in section
    assert not any(unit in section.split() for unit in agreed.plan.units)
    assert "A new forecast of" in section
    data = month_data(agreed, shown, board=True)["held"]
    assert data["newest"]["on"] == agreed.on.isoformat()
    json.dumps(data)
    assert "Held to the accepted programme" in month_text(agreed, shown)
    spanish = " ".join(texts_of(month_document(agreed, shown, Voice("es"))))
    assert "Held to" not in spanish


def test_the_section_is_the_second_sheet(agreed):
    for voice in (ENGLISH, Voice("es")):
        pdf = PdfReader(io.BytesIO(write_pdf(month_document(agreed, month_view(agreed), voice), "a4")))
        assert len(pdf.pages) == 2
    table = rows(month_view(agreed).held.held, ENGLISH)
    assert [what for what, _, _ in table][:2] == ["Units infested", "New finds"]


def test_a_programme_is_accepted_on_its_page_as_its_runs_have_it(tmp_path):
    session = small_session(tmp_path, rows=LIVED_IN)
    server = create_app(session).server
    client, work = server.test_client(), server.extensions["programmes"]
    assert "wait until" in client.post("/programmes/accept", json={}).get_json()["problem"]
    assert "No programme" in client.post("/programmes/renew", json={}).get_json()["problem"]
    keys = ["complaint", KEY]
    assert client.post("/programmes/start", json={"programmes": keys, "runs": 40, "weeks": 26}).get_json()[
        "ok"
    ]
    assert work.wait(120)
    for bad in ({"choose": "survey-dog"}, {"choose": KEY, "offer.visit": "many"}):
        assert client.post("/programmes/accept", json=bad).get_json()["problem"]
    assert not session.building.store.programmes.all()
    sent = {"choose": KEY, "offer.visit": "12"}
    assert not client.post("/programmes/accept", json=sent).get_json()["problem"]
    assert not client.post("/programmes/accept", json=sent).get_json()["problem"], (
        "a second press adds nothing"
    )
    (kept,) = accepted_in(session.building.store.programmes)
    told = summarise(work.done, Prices(), fees=kept.terms.fees).of(KEY)
    assert kept.bands[INFESTED][-1][1] == told.figures["infested-at-end"].median
    assert kept.terms.fees.visit == 12.0
    now = client.post("/programmes/now", json={}).get_json()["accepted"]
    assert "accepted on" in now["lines"][0]


def test_commands_keep_and_hold_and_bad_input_ends_with_one_sentence(tmp_path, capsys):
    folder = make_building(tmp_path / "maple", [find("101", 20), treatment("101", 15)])
    on = ["--on", ON.isoformat()]
    (tmp_path / "bad.toml").write_text("visit = 'x'\n[fees]\nvisit = -3\n")
    for wrong in (
        [], ["no-such"], ["complaint", "--renew"], ["--renew"], ["complaint", "--by", "Anna"],
        ["complaint", "--offer", str(tmp_path / "bad.toml")], ["complaint", "--offer", "none.toml"],
        ["complaint", "--runs", "3"], ["complaint", "--weeks", "0"],
    ):  # fmt: skip
        assert main(["accept", str(folder), *wrong, *on]) == 2, wrong
        said = capsys.readouterr().err
        assert said.strip(), wrong
        assert "Traceback" not in said
    assert not (folder / "records.csv.programmes").exists()
    few = ["--runs", "100", "--weeks", "13"]
    main(["accept", str(folder), "complaint", *few, "--by", "M1", *on, "--json"])
    kept = json.loads(capsys.readouterr().out)
    assert (kept["key"], kept["by"], kept["ends"]) == ("complaint", "M1", [4, 9, 13])
    later = ["--on", (ON + dt.timedelta(days=30)).isoformat()]
    main(["accept", str(folder), "--renew", *later])
    capsys.readouterr()
    main(["held", str(folder), *later, "--json"])
    held = json.loads(capsys.readouterr().out)["held"]
    assert (held["accepted_id"], held["month"], held["verdict"]) == (kept["id"], 1, "unknown")
    assert held["newest"]["on"] == later[1]
    assert open_building(folder).building.store.programmes.all()[0].id == kept["id"]
    assert set(CODES) == set(open_building(folder).plan.units)

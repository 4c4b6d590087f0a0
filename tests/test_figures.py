"""Figures without a browser: what they show is what the facts say, in colours that both schemes can carry."""

import datetime as dt
import re
from pathlib import Path

import numpy as np
import pytest
from buildings import find, make_building, open_building
from test_past import rising, view_with

from dashboard.figures import drawn as look
from dashboard.figures.building import (
    began_figure,
    past_figure,
    rates_figure,
    sources_figure,
    trail_figure,
)
from dashboard.figures.graph import CONFIG, graph, told
from dashboard.figures.programmes import cost_figure, curves, drivers_figure
from spread.decisions.past import past_of
from spread.programmes.drivers import tornado
from spread.programmes.money import Prices
from spread.programmes.reading import preset
from spread.programmes.results import summarise
from spread.programmes.run import RunSettings, simulate

STYLE = Path("dashboard/web/spread.css")
SHEETS = ("#fffdf8", "#211d19")


@pytest.fixture(scope="module")
def session(tmp_path_factory):
    folder = tmp_path_factory.mktemp("figures") / "maple-row"
    return open_building(make_building(folder, [find("102", 20)]))


@pytest.fixture(scope="module")
def compared(session):
    both = [preset("complaint"), preset("survey-brief")]
    done = simulate(session.view, both, RunSettings(weeks=26, runs=40), pace=session.building.settings.pace)
    return both, summarise(done, Prices())


def brightness(colour):
    parts = [int(colour[k : k + 2], 16) / 255 for k in (1, 3, 5)]
    red, green, blue = (v / 12.92 if v <= 0.04045 else ((v + 0.055) / 1.055) ** 2.4 for v in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


@pytest.mark.parametrize("colour", [look.ACCENT, look.OTHER, look.PLAIN])
def test_lines_and_marks_keep_three_to_one_on_both_sheets(colour):
    """By the formula of WCAG 2; the sheets are those of the style."""
    text = STYLE.read_text(encoding="utf-8")
    for sheet in SHEETS:
        assert f"--sheet: {sheet};" in text
        light, dark = sorted((brightness(colour), brightness(sheet)), reverse=True)
        assert (light + 0.05) / (dark + 0.05) >= 3.0


def test_the_bands_of_the_past_are_those_of_its_facts():
    past = past_of(view_with([[k] * 26 for k in range(1, 21)], now=[3] * 20))
    made = past_figure(past)
    low, high, lower, upper, median = (trace["y"] for trace in made.figure["data"])
    assert (low[0], lower[0], median[0], upper[0], high[0]) == (1, 5, 10, 15, 19)
    assert made.figure["data"][4]["x"][-1] == past.weeks[-1].monday
    assert made.rows[0][1:] == ["10", "5 to 15", "1 to 19"]
    assert made.figure["data"][3]["name"].startswith("50%")
    assert made.figure["data"][1]["name"].startswith("90%")


def test_the_chances_of_when_it_began_are_shares_of_the_draws():
    """Ten draws: three had it when the window began, five from week 10 on, two never."""
    past = past_of(view_with(rising([0] * 3 + [10] * 5 + [None] * 2)))
    assert past.began[0] == pytest.approx(0.3)
    assert past.began[10] == pytest.approx(0.5)
    assert sum(past.began) + past.none == pytest.approx(1.0)
    made = began_figure(past)
    assert made.rows[0][1] == "30%"
    month = past.weeks[10].monday[:7] + "-01"
    [bar] = made.figure["data"]
    assert dict(zip(bar["x"], bar["y"], strict=True))[month] == pytest.approx(50.0)
    assert sum(bar["y"]) == pytest.approx(50.0)


def test_a_trail_marks_the_records_in_the_window_and_never_says_0_or_100_per_cent(session):
    log = session.view.log.of("102")
    assert log
    mondays = [(log[0].when + dt.timedelta(weeks=k)).isoformat() for k in range(-4, 4)]
    made = trail_figure("102", mondays, np.array([0.0, 0, 0, 0, 0.5, 1.0, 1.0, 1.0]).tolist(), log)
    assert made.figure["data"][0]["y"][4] == 50.0
    assert [row[1] for row in made.rows][:6:5] == ["<1%", ">99%"]
    assert sum(len(trace["x"]) for trace in made.figure["data"][1:]) == len(log)
    late = [(log[-1].when + dt.timedelta(weeks=k)).isoformat() for k in (1, 2)]
    assert len(trail_figure("102", late, [0.1, 0.2], log).figure["data"]) == 1


def test_rates_and_sources_are_those_that_the_log_taught(session):
    learned = session.learned()
    made = rates_figure(learned)
    before, after = made.figure["data"]
    assert before["x"] == pytest.approx([1.0] * len(learned.rates))
    ratios = [rate.posterior.median / rate.prior.median for rate in reversed(learned.rates)]
    assert after["x"] == pytest.approx(ratios)
    sources = sources_figure(learned).figure["data"][0]
    assert sorted(sources["x"]) == pytest.approx(sorted(s.median for s in learned.new_per_year.values()))


def test_curves_share_a_scale_and_begin_on_the_day(session, compared):
    _, comparison = compared
    made = curves(comparison, session.on)
    assert len({each.figure["layout"]["yaxis"]["range"][1] for each in made}) == 1
    for each, outcome in zip(made, comparison.outcomes, strict=True):
        days = each.figure["data"][4]["x"]
        assert (days[0], len(days)) == (session.on.isoformat(), 27)
        assert each.figure["data"][4]["y"] == outcome.infested[2].tolist()
    cost = cost_figure(comparison)
    assert cost.figure["data"][0]["x"] == [o.figures["cost"].median for o in comparison.outcomes[::-1]]


def test_names_beside_rows_never_touch_however_many_lines_they_take():
    """A row keeps a line of the letters' own size, 13 pixels, free between the names of two neighbours."""
    for names in (
        ["Walls", "Risers"],
        ["Households that refuse"] * 3,
        ["Steam, dust and encasement treatment"] * 9,
    ):
        lines = max(tick.count("<br>") + 1 for tick in look.name_ticks(names)["ticktext"])
        assert look.rows_high(names, 44) / len(names) >= max(44, lines * 13 * 1.3 + 13)


def test_the_drivers_reach_from_the_centre_to_their_ends(session, compared):
    (first, second), _ = compared
    found = tornado(session.view, second, first, RunSettings(weeks=13, runs=10))
    made = drivers_figure(found, second.name, first.name)
    low, high = made.figure["data"]
    for k, driver in enumerate(reversed(found.drivers)):
        assert low["base"] + low["x"][k] == pytest.approx(driver.bug_weeks[0].mean)
        assert high["base"] + high["x"][k] == pytest.approx(driver.bug_weeks[1].mean)
    ticks = made.figure["layout"]["yaxis"]["ticktext"]
    lines = max(tick.count("<br>") + 1 for tick in ticks)
    assert made.figure["layout"]["height"] - 120 >= len(ticks) * (lines * 13 * 1.3 + 13)
    assert len(made.rows) == len(found.drivers) > 5


def test_nothing_is_offered_to_be_sent_away_and_every_figure_has_its_table(session):
    assert CONFIG["showSendToCloud"] is False
    assert CONFIG["plotlyServerURL"] == ""
    made = past_figure(session.past())
    text = str(graph("some-figure", made))
    assert "Details" in text
    assert re.search(r"id='some-figure-table'", text)
    props = told("some-figure", made)
    assert props["some-figure-table"]["children"]["type"] == "Table"
    assert set(props) == {"some-figure", *(f"some-figure-{part}" for part in ("title", "words", "table"))}

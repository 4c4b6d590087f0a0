"""The programme page in Chromium: curves that build, money that changes at once, a stop that keeps."""

import pytest

from dashboard.programmes import work

pytestmark = pytest.mark.browser
SLOW = 300_000
"""Milliseconds that the first simulation may take, which compiles, where much else runs."""


def started(page, url, runs="40", weeks="26"):
    page.goto(f"{url}/programmes")
    page.locator("#programmes-runs").select_option(runs)
    page.locator("#programmes-weeks").select_option(weeks)
    page.locator("#programmes-start").click()


def row(page, label):
    return page.locator(f'#programmes-table tr:has(th:text("{label}"))').all_text_contents()


def test_from_the_first_curves_over_other_prices_to_the_proposal(new_page, building, axe, tmp_path):
    """One simulation, whose page is walked to the end."""
    page = new_page()
    started(page, building.url)
    page.locator("#programmes-said", has_text="Done: 40 runs").wait_for(timeout=SLOW)
    the_page_is_open_to_all(page, axe)
    a_new_price_changes_money_alone(page, building)
    a_bad_number_gets_a_sentence_and_stays_as_typed(page)
    prices_from_a_file_fill_the_fields_and_go_back_to_one(page, tmp_path)
    the_proposal_opens_from_the_runs(page)


def the_page_is_open_to_all(page, axe):
    for width in (1024, 390, 1440):
        page.set_viewport_size({"width": width, "height": 900})
        page.wait_for_function("width => innerWidth === width", arg=width)
        assert not [one for one in axe(page) if one[2] in ("serious", "critical")], width
        assert page.evaluate("document.documentElement.scrollWidth") <= width


def a_new_price_changes_money_alone(page, building):
    assert page.locator("#programmes-curves .js-plotly-plot .scatterlayer:visible").count() == 2
    assert page.locator("#programmes-bar").evaluate("bar => bar.value") == 100
    cost, bugs = row(page, "Cost"), row(page, "Infested unit-weeks")
    page.locator('input[name="hour"]').fill("500")
    gone = "old => !document.querySelector('#programmes-table').textContent.includes(old)"
    page.wait_for_function(gone, arg=cost[0])
    assert row(page, "Infested unit-weeks") == bugs
    assert row(page, "Cost") != cost
    for figure in page.locator("#programmes-out .js-plotly-plot:visible").all():
        drawn = figure.locator(".main-svg").first.get_attribute("height")
        assert figure.evaluate("figure => figure.offsetHeight") == float(drawn), "it lies over nothing"
    page.locator('input[name="hour"]').fill("50")
    again = "old => document.querySelector('#programmes-table').textContent.includes(old)"
    page.wait_for_function(again, arg=cost[0])
    assert page.request.post(f"{building.url}/programmes/now", data={}).json()["simulations"] == 1


def a_bad_number_gets_a_sentence_and_stays_as_typed(page):
    cost = row(page, "Cost")
    page.locator('input[name="hour"]').fill("lots")
    said = page.locator("[id='bad-hour']")
    said.get_by_text("is no number").wait_for()
    assert "Until then 50 is used." in said.text_content()
    assert page.locator('input[name="hour"]').input_value() == "lots"
    assert page.locator('input[name="hour"]').get_attribute("aria-invalid") == "true"
    assert row(page, "Cost") == cost
    page.reload()
    said.get_by_text("is no number").wait_for()
    assert page.locator('input[name="hour"]').input_value() == "lots", "kept over a reload"


def prices_from_a_file_fill_the_fields_and_go_back_to_one(page, tmp_path):
    own = tmp_path / "ours.toml"
    own.write_text('currency = "EUR"\nhour = 71\n\n[fee]\ndog = 12\n', encoding="utf-8")
    page.locator("#programmes-file").set_input_files(own)
    page.get_by_text("ours.toml: 3 prices taken over.").wait_for()
    assert page.locator('input[name="hour"]').input_value() == "71"
    page.locator("#programmes-table", has_text="Cost of the work, EUR").wait_for()
    with page.expect_download() as got:
        page.locator("#programmes-keep").click()
    assert got.value.suggested_filename == "prices.toml"
    assert got.value.path().read_text(encoding="utf-8") == own.read_text(encoding="utf-8")
    own.write_text('hour = "ten"\n', encoding="utf-8")
    page.locator("#programmes-file").set_input_files(own)
    page.get_by_text("it is text, expected a number").wait_for()
    assert page.locator('input[name="hour"]').input_value() == "71", "what was there stays"


def the_proposal_opens_from_the_runs(page):
    page.locator("#programmes-verdict li", has_text="doing nothing").wait_for(timeout=SLOW)
    page.locator("#programmes-turns li").first.wait_for(timeout=SLOW)
    page.locator("#programmes-choose").select_option("complaint-ranked")
    page.locator("#programmes-offer summary").click()
    page.locator("[name='offer.unit_month']").fill("6.5")
    page.locator("#programmes-table tr", has_text="Price by the fee schedule").wait_for()
    with page.expect_popup() as opened:
        page.locator("#programmes-html").click()
    text = opened.value.locator("body").text_content()
    assert "Complaints and ranked doors" in text
    assert "A unit and month" in text
    assert "in the same 40 futures over 26 weeks" in text


def test_a_stop_keeps_what_is_done(new_page, building, monkeypatch):
    """The simulation is the real one, held after each piece until it is stopped: no machine is too fast."""
    simulate = work.simulate

    def held(view, chosen, settings, *, pace, partial, stop):
        def keep(done):
            partial(done)
            stop.wait(60)

        return simulate(view, chosen, settings, pace=pace, partial=keep, stop=stop)

    monkeypatch.setattr(work, "simulate", held)
    page = new_page()
    started(page, building.url, "1000", "104")
    page.locator("#programmes-curves .scatterlayer").first.wait_for(timeout=SLOW)
    page.locator("#programmes-stop").click()
    page.locator("#programmes-said", has_text="and kept").wait_for(timeout=SLOW)
    now = page.request.post(f"{building.url}/programmes/now", data={}).json()
    assert 0 < now["done"] < 1000
    assert now["shown"]["runs"] == now["done"]


def test_a_programme_of_ones_own_is_made_changed_and_removed_on_a_phone(new_page, building):
    page = new_page(390, 844, phone=True)
    page.goto(f"{building.url}/programmes")
    page.locator("#programmes-own-box summary").click()
    form = page.locator("#programmes-own-form")
    assert not form.locator("[id='own-survey.method']").is_visible(), "only what is ticked is asked"
    form.locator("[name=survey]").check()
    form.locator("[id='own-survey.every_weeks']").fill("often")
    form.locator("[name=name]").fill("Dogs each quarter")
    page.locator("#programmes-own-save").click()
    form.locator("[id='own-bad-survey.every_weeks']", has_text="no number").wait_for()
    form.locator("[id='own-survey.every_weeks']").fill("13")
    form.locator("[id='own-survey.method']").select_option("dog")
    page.locator("#programmes-own-save").click()
    row = page.locator(".programmes-own-row", has_text="Dogs each quarter")
    row.wait_for()
    assert row.locator("input").is_checked()
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    page.reload()
    row.wait_for()
    row.locator("button").click()
    page.wait_for_function("() => document.querySelector(\"[id='own-survey.every_weeks']\").value === '13'")
    page.locator("#programmes-own-remove").click()
    row.wait_for(state="detached")

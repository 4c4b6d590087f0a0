"""The manager's week in Chromium: what is due, a round, files to take away, and paper."""

import io
import json
import re
import zipfile

import pytest
from buildings import CODES, ON, clear, find, make_building, open_building, treatment

from spread.decisions.duties.owed import duties
from spread.decisions.week.ahead import week_ahead
from spread.report.exchange.bundle import EXPORTS
from spread.report.week import NOT_ADVICE, week_document, week_view
from spread.trade.rules import load_rules
from spread.words import ENGLISH
from spread.words import week as words
from spread.words.doors import reason_text

pytestmark = pytest.mark.browser
ROWS = [find("203", 1, level="moderate"), clear("101", 40), find("105", 30), treatment("105", 29)]


@pytest.fixture(scope="module")
def maple(tmp_path_factory):
    return open_building(make_building(tmp_path_factory.mktemp("week") / "maple-row", ROWS))


@pytest.fixture
def address(maple, serve_session):
    return serve_session(maple)


ALARMS = """() => {
    const probe = document.body.appendChild(document.createElement("i"));
    probe.style.color = "var(--wrong)";
    const wrong = getComputedStyle(probe).color;
    probe.remove();
    const red = (one) => {
        const style = getComputedStyle(one);
        const says = [...one.childNodes].some((node) => node.nodeType === 3 && node.data.trim());
        const edge = parseFloat(style.borderLeftWidth) && style.borderLeftColor === wrong;
        return (says && style.color === wrong) || style.backgroundColor === wrong || edge;
    };
    const high = (one) => one.matches(".room, .pill, .big") && one.closest(".c4, .c5");
    const seen = [...document.querySelectorAll("main *")].filter((one) => one.checkVisibility());
    return seen.filter((one) => red(one) || high(one)).map((one) => one.outerHTML.slice(0, 90));
}"""
"""What is red, or painted as a high chance."""


def fetched(page, url):
    return page.request.get(url)


def test_the_week_shows_every_open_duty_and_visit_once_where_it_belongs(new_page, maple, address):
    page = new_page()
    page.goto(f"{address}/week")
    view, rules = maple.view, load_rules(maple.building.settings.rules)
    owed = [d for d in duties(view.log, view.graph, rules, ON) if d.status != "done"]
    visits = [f for f in view.followups.values() if f.visit is not None]
    week = week_ahead(owed, visits, ON, lambda unit: view.network.index[unit])
    lines = [*week.late, *(line for _, day in week.days for line in day), *week.undated]
    shown = sum(len(line.units) for line in lines if line.kind != "notice")
    assert shown + week.later == len(owed) + len(visits)
    assert shown > 0
    units = page.locator(".week-day .week-unit").all_text_contents()
    assert sorted(units) == sorted(unit.unit for line in lines for unit in line.units)
    assert NOT_ADVICE in page.locator(".week-law").text_content()
    assert page.locator('.pages-bar a[aria-current="page"]').text_content() == "Week"


def test_the_week_is_said_in_the_measure_that_is_chosen_and_its_days_in_one_form(new_page, maple, address):
    page = new_page(locale="de-DE")
    page.goto(f"{address}/week")
    page.locator(".headline", has_text="Wed 15 May 2024").wait_for()
    reasons = [reason_text(row.reasons[:1], ENGLISH) for row in maple.doors()[:12]]
    assert any(" m of wall" in reason for reason in reasons)
    assert " m of wall" in page.locator(".week-doors").inner_text()
    with page.expect_navigation():
        page.locator('[data-measures="feet"]').click()
    told = page.locator(".week-doors").inner_text()
    assert " ft of wall" in told
    assert not re.search(r"\d m of wall", told)


def test_a_unit_on_the_list_leads_to_its_panel_on_the_plan(new_page, address):
    page = new_page()
    page.goto(f"{address}/week")
    unit = page.locator(".week-doors .week-unit").first.text_content()
    page.locator(".week-doors .week-unit").first.click()
    page.wait_for_selector("#panel:not([hidden])")
    assert page.locator("#panel-title").text_content() == f"Unit {unit}"


def test_the_round_is_planned_for_the_time_that_is_typed_and_a_slip_keeps_it(new_page, maple, address):
    page = new_page()
    page.goto(f"{address}/week?minutes=240")
    many = page.locator(".week-stops li").count()
    page.locator('input[name="minutes"]').fill("40")
    page.locator(".week-form button").click()
    page.wait_for_url("**minutes=40**")
    assert 0 < page.locator(".week-stops li").count() < many
    page.goto(f"{address}/week?minutes=lots&begins=noonish")
    assert page.locator('input[name="minutes"]').input_value() == "lots"
    told = " ".join(page.locator(".form-error").all_text_contents())
    assert "'lots' is not a number of minutes" in told
    assert "'noonish' is not a time of day" in told


def test_every_file_comes_as_a_download_that_no_page_can_run(new_page, maple, address):
    page = new_page()
    page.goto(f"{address}/week")
    for name, export in EXPORTS.items():
        assert page.locator(f'a[href="/week/export/{name}"]').count() == 1
        reply = fetched(page, f"{address}/week/export/{name}")
        assert reply.ok
        assert reply.headers["content-disposition"] == f'attachment; filename="{export.file}"'
        assert reply.headers["x-content-type-options"] == "nosniff"
        assert reply.headers["content-security-policy"].startswith("sandbox")
        assert reply.headers["cache-control"] == "no-store"
    assert json.loads(fetched(page, f"{address}/week/export/geojson").body())["features"]
    with zipfile.ZipFile(io.BytesIO(fetched(page, f"{address}/week/export/all").body())) as archive:
        assert archive.testzip() is None
    assert fetched(page, f"{address}/week/export/passwd").status == 404


@pytest.mark.parametrize(("link", "size"), [(-2, (595, 842)), (-1, (612, 792))], ids=["a4", "letter"])
def test_each_door_of_the_round_has_a_sheet_of_one_page_in_its_order(new_page, address, link, size):
    page = new_page()
    page.goto(f"{address}/week?minutes=60")
    doors = page.locator(f'[data-day="{ON}"] .week-unit').all_text_contents()
    assert doors
    links = page.locator(".week-links a")
    page.goto(f"{address}{links.nth(links.count() + link).get_attribute('href')}")
    pdfium = pytest.importorskip("pypdfium2")
    sheets = pdfium.PdfDocument(page.pdf(prefer_css_page_size=True))
    begun = [re.findall(r"Unit (\w+)", one.get_textpage().get_text_range())[:1] for one in sheets]
    assert begun == [[unit] for unit in doors]
    assert all(one.get_size() == pytest.approx(size, abs=1) for one in sheets)


def test_the_printed_page_has_the_list_and_none_of_the_buttons(new_page, address):
    page = new_page()
    page.goto(f"{address}/week")
    page.emulate_media(media="print")
    for gone in ("#week-print", ".week-form", ".pages-bar", ".week-take"):
        assert page.locator(gone).first.is_hidden(), gone
    assert page.locator(".week-day").first.is_visible()
    assert page.locator(".week-law").is_visible()


def test_a_building_without_records_is_told_what_to_do_next(new_page, serve_session, tmp_path):
    session = open_building(make_building(tmp_path / "bare"))
    page, address = new_page(), serve_session(session)
    page.goto(f"{address}/week")
    words = page.locator(".week-empty").text_content()
    assert "The log of this building is empty" in words
    assert "Record the first report or look" in words
    assert page.locator(".week-doors li").count() == len(CODES)
    for path in ("/week", "/month", "/past", "/", f"/?unit={CODES[0]}"):
        page.goto(f"{address}{path}")
        page.wait_for_selector("h1")
        if path.startswith("/?"):
            page.wait_for_selector("#panel-history .soft")
        assert page.evaluate(ALARMS) == [], path
        text = page.locator("main").inner_text()
        told = "log of this building is empty|nothing (is )?recorded|nothing was looked at|cannot be told"
        assert re.search(told, text, re.IGNORECASE), path
        assert "What moved most" not in text
    assert page.locator(".arrow").count() == 0, "nobody said anything of a neighbour"


def test_the_document_of_the_week_names_every_unit_that_is_owed(maple):
    shown = week_view(maple)
    text = str(week_document(shown, maple))
    for line in (*shown.week.late, *(one for _, day in shown.week.days for one in day)):
        assert words.line(line, ON, ENGLISH).title in text
        assert all(unit.unit in text for unit in line.units)


def test_axe_finds_nothing_on_the_week(new_page, address, axe):
    page = new_page()
    page.goto(f"{address}/week")
    for width in (1440, 390):
        assert axe(page, width) == []
        assert page.evaluate("document.documentElement.scrollWidth <= document.documentElement.clientWidth")

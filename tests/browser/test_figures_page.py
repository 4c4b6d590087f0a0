"""Figures in Chromium: they are drawn, can be kept, and nothing is fetched or sent anywhere else.

That no page asks anything outside is checked by the fixture ``new_page`` at the end of every test.
"""

import pytest

pytestmark = pytest.mark.browser


def test_the_plan_leads_to_figures_that_can_be_kept_and_offer_no_upload(new_page, building, axe, tmp_path):
    page, asked = new_page(), []
    page.on("request", lambda request: asked.append(request.url))
    page.goto(building.url)
    page.wait_for_selector("#taught li", state="attached")
    page.locator("#taught-part summary").click()
    assert asked
    assert not [url for url in asked if "plotly" in url or "async-graph" in url]
    page.locator("#taught-part a", has_text="figures").click()
    page.locator("#past-units .scatterlayer").wait_for(timeout=20000)
    assert [url for url in asked if "plotly" in url], "that is how its bytes are told here"
    page.locator("#past-trail .scatterlayer").wait_for(timeout=20000)
    for figure in ("past-units", "past-began", "past-rates", "past-sources", "past-trail"):
        buttons = page.locator(f"#{figure} .modebar-btn")
        names = {buttons.nth(k).get_attribute("data-title") for k in range(buttons.count())}
        assert any("png" in name.lower() for name in names), names
        assert not [name for name in names if "share" in name.lower() or "cloud" in name.lower()], names
    assert page.locator(".modebar a[href*='plotly']").count() == 0
    for width in (1440, 390):
        page.set_viewport_size({"width": width, "height": 900})
        page.wait_for_function("width => innerWidth === width", arg=width)
        assert not [one for one in axe(page) if one[2] in ("serious", "critical")], width
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    page.set_viewport_size({"width": 1440, "height": 900})
    with page.expect_download() as got:
        page.locator("#past-units .modebar-btn").first.click()
    assert got.value.suggested_filename == "past-units.png"
    got.value.save_as(tmp_path / "kept.png")
    assert (tmp_path / "kept.png").read_bytes().startswith(b"\x89PNG")


def test_the_address_names_the_unit_and_the_table_says_the_same(new_page, building):
    page = new_page()
    unit = list(building.session.plan.units)[-1]
    page.goto(f"{building.url}/past/{unit}")
    page.locator("#past-trail-title", has_text=f"Unit {unit}").wait_for()
    page.locator(".figure:has(#past-trail) summary").click()
    assert page.locator("#past-trail-table tr").count() > 5
    other = next(iter(building.session.plan.units))
    page.locator("#past-unit").fill(other)
    page.locator("#past-unit").press("Enter")
    page.locator("#past-trail-title", has_text=f"Unit {other}").wait_for()
    page.locator("#past-unit").fill("no such unit")
    page.locator("#past-unit").press("Enter")
    page.wait_for_timeout(500)  # none fails for being late
    assert page.locator("#past-trail-title").text_content().startswith(f"Unit {other}")

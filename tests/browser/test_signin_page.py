"""Signing in with a phone in Chromium, and a round that outlives the sign-in: every answer exactly once."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from conftest import WORKER
from staff import add_person, hash_cheaply
from test_round_page import line, press, until

from spread.building import load_building
from spread.session import Session

pytestmark = pytest.mark.browser

PHONE = {"width": 390, "height": 760, "phone": True}
PHRASES = {"T1": "three lamps under oak", "T2": "nine kettles by a door"}


class Shut:
    """A demo building with two people, served."""

    def __init__(self, folder, session, url):
        self.folder, self.session, self.url = folder, session, url
        self.earlier = len(self.rows())

    def rows(self):
        return self.session.view.log.rows

    def new_rows(self):
        return load_building(self.folder).log.rows[self.earlier :]


@pytest.fixture
def shut(building, tmp_path, serve_session, monkeypatch):
    hash_cheaply(monkeypatch)  # the hash itself: test_people_stores, test_signin
    folder = tmp_path / "shut"
    shutil.copytree(Path(building.session.building.folder), folder)
    for code, phrase in PHRASES.items():
        add_person(folder, code, phrase)
    session = Session(load_building(folder), building.session.view.posterior, building.session.fit_settings)
    yield Shut(folder, session, serve_session(session))
    session.wait()


def sign_in(page, code="T1"):
    page.wait_for_selector("#phrase")
    page.locator("#who").fill(code)
    page.locator("#phrase").fill(PHRASES[code])
    page.locator("button[type=submit]").click()


def in_round(new_page, shut, **more):
    page = new_page(**{**PHONE, **more})
    page.goto(f"{shut.url}/round")
    sign_in(page)
    page.wait_for_url("**/round")
    page.wait_for_selector("#unit")
    return page


def forgive(new_page, *said):
    """A refused request is told on the console by Chromium itself; nothing else may be."""
    new_page.errors[:] = [text for text in new_page.errors if not any(one in text for one in said)]


def test_a_phone_is_led_to_the_form_and_on_to_where_it_wanted(new_page, shut):
    page = new_page(**PHONE)
    page.goto(f"{shut.url}/room/A101")
    assert page.url == f"{shut.url}/sign-in?next=/room/A101"
    page.locator("#who:focus").wait_for()
    for target in ("#who", "#phrase", "#see-part", "button[type=submit]", "[data-language=es]"):
        assert page.locator(target).bounding_box()["height"] >= 44, target
    assert page.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]
    page.locator("#phrase").evaluate(
        """node => { const carried = new DataTransfer(); carried.setData("text", "x");
            if (!node.dispatchEvent(new ClipboardEvent("paste", { clipboardData: carried, bubbles: true, cancelable: true })))
                throw new Error("pasting is stopped"); }"""  # noqa: E501
    )
    page.locator("#see").check()
    assert page.locator("#phrase").get_attribute("type") == "text"
    sign_in(page)
    page.wait_for_url("**/room/A101")
    page.wait_for_selector("#state .tags")


def test_a_wrong_pass_phrase_keeps_the_code_and_says_what_to_do(new_page, shut):
    page = new_page(**PHONE)
    page.goto(f"{shut.url}/sign-in?next=/round")
    page.locator("#who").fill("t1")
    page.locator("#phrase").fill("not the phrase at all")
    page.locator("#phrase").press("Enter")
    page.wait_for_selector("#wrong")
    forgive(new_page, "401")
    assert "do not belong together" in page.locator("#wrong").inner_text()
    assert page.locator("#who").input_value() == "t1"
    assert page.locator("#phrase").input_value() == ""
    page.locator("#phrase:focus").wait_for()
    sign_in(page)
    page.wait_for_url("**/round")


def test_the_form_works_without_a_script(new_page, shut):
    page = new_page(**PHONE, java_script_enabled=False)
    page.goto(f"{shut.url}/sign-out")
    assert not page.locator("#see-part").is_visible()
    sign_in(page)
    page.wait_for_url(f"{shut.url}/")  # a sign-out is nothing to be led back to
    assert shut.session.plan.name in page.title()


def test_answers_given_after_the_sign_in_ended_wait_and_go_out_once_each(new_page, shut):
    page = in_round(new_page, shut)
    done = [(press(page, "clear"), "inspection")]
    until(page, lambda: line(page) == "all sent")
    page.context.clear_cookies()
    for answer, kind in (("nobody", "no-access"), ("clear", "inspection"), ("refused", "no-access")):
        done.append((press(page, answer), kind))
    until(page, lambda: "sign in again to send" in line(page))
    assert "3 waiting" in line(page)
    assert len(shut.new_rows()) == 1
    page.locator("#line").tap()
    assert "each is sent once" in page.locator("#sheet-state").inner_text()
    page.locator("#sign-in-again").tap()
    page.wait_for_selector("#phrase")
    until(page, lambda: "3 answers wait on this device" in page.locator("#kept").inner_text())
    sign_in(page)
    page.wait_for_url("**/round")
    until(page, lambda: line(page) == "all sent")
    page.reload()
    until(page, lambda: line(page) == "all sent")
    assert [(row.unit, row.kind) for row in shut.new_rows()] == done
    assert {row.by for row in shut.new_rows()} == {"T1"}
    forgive(new_page, "401")


def test_an_answer_that_was_kept_but_whose_reply_was_lost_is_not_kept_twice(new_page, shut):
    """The worst moment: the record is on the disk, the reply is lost, and then the sign-in ends."""
    page = in_round(new_page, shut)
    until(page, lambda: line(page) == "all sent")

    def lose(route):
        route.fetch()
        page.context.clear_cookies()
        route.abort()

    page.route("**/round/answers", lose, times=1)
    unit = press(page, "clear")
    until(page, lambda: "sign in again to send" in line(page))
    assert "1 waiting" in line(page)
    assert len(shut.new_rows()) == 1
    page.goto(f"{shut.url}/sign-in?next=/round")
    sign_in(page)
    page.wait_for_url("**/round")
    until(page, lambda: line(page) == "all sent")
    assert [(row.unit, row.by) for row in shut.new_rows()] == [(unit, "T1")]
    forgive(new_page, "401", "net::ERR_")


def test_the_worker_opens_the_round_and_never_the_form_in_its_place(new_page, shut):
    page = in_round(new_page, shut, **WORKER)
    page.evaluate("navigator.serviceWorker.ready.then(() => 0)")
    until(page, lambda: page.evaluate("caches.match('/round').then(kept => !!kept)"))
    page.context.clear_cookies()
    page.goto(f"{shut.url}/round")
    assert page.url == f"{shut.url}/round", "the phone opens it without asking"
    until(page, lambda: "sign in again to send" in line(page))
    assert page.locator("#unit").is_visible(), "the doors that it had are still there"
    kept = page.evaluate(
        """async () => { const texts = [];
            for (const name of await caches.keys()) for (const ask of await (await caches.open(name)).keys())
                texts.push([new URL(ask.url).pathname, await (await caches.match(ask)).text()]);
            return texts; }"""
    )
    assert len(kept) >= 5
    assert not [path for path, text in kept if "Pass phrase" in text or "sign-in?next" in text]
    forgive(new_page, "401")


def test_a_phone_without_a_sign_in_installs_no_worker(new_page, shut):
    page = new_page(**PHONE, **WORKER)
    page.goto(f"{shut.url}/sign-in")
    said = page.evaluate(
        "navigator.serviceWorker.register('/round/worker.js', {scope: '/round'})"
        ".then(() => 'kept', () => 'refused')"
    )
    assert said == "refused"
    forgive(new_page, "401")


def test_anothers_answers_wait_for_them_and_are_not_sent_under_a_second_persons_code(new_page, shut):
    page = in_round(new_page, shut)
    until(page, lambda: line(page) == "all sent")
    page.context.clear_cookies()
    unit = press(page, "clear")
    until(page, lambda: "sign in again to send" in line(page))
    page.goto(f"{shut.url}/sign-in?next=/round")
    sign_in(page, "T2")
    page.wait_for_url("**/round")
    until(page, lambda: line(page) == "1 for elsewhere")
    page.locator("#line").tap()
    assert "T1" in page.locator("#sheet-body").inner_text()
    page.wait_for_timeout(300)
    assert len(shut.new_rows()) == 0
    page.goto(f"{shut.url}/sign-out")
    page.locator("button[type=submit]").click()
    page.wait_for_selector("#phrase")
    sign_in(page, "T1")
    page.wait_for_url(f"{shut.url}/")
    page.goto(f"{shut.url}/round")
    until(page, lambda: line(page) == "all sent")
    assert [(row.unit, row.by) for row in shut.new_rows()] == [(unit, "T1")]
    forgive(new_page, "401", "409")


def test_signing_out_clears_the_doors_from_the_phone_but_no_answer_that_waits(new_page, shut):
    page = in_round(new_page, shut)
    until(page, lambda: line(page) == "all sent")
    page.context.set_offline(True)
    press(page, "clear")
    until(page, lambda: "1 waiting" in line(page))
    kept = "Object.keys(localStorage).map(key => key.split('.')[1])"
    assert "doors" in page.evaluate(kept)
    page.goto("about:blank")
    page.context.set_offline(False)
    page.route("**/round/answers", lambda route: route.abort())
    page.goto(f"{shut.url}/sign-out")
    assert "T1" in page.locator("main").inner_text()
    page.locator("button[type=submit]").click()
    page.wait_for_selector("#phrase")
    until(page, lambda: "You are signed out on this device." in page.locator("#kept").inner_text())
    assert not {"doors", "round", "room", "any-room"} & set(page.evaluate(kept))
    assert page.evaluate(kept).count("wait") == 1
    forgive(new_page, "net::ERR_", "401")


def test_the_plan_says_that_the_sign_in_ended_and_keeps_what_was_typed(new_page, shut):
    page = new_page()
    page.goto(f"{shut.url}/")
    sign_in(page)
    page.wait_for_selector("#doors [data-unit]")
    page.locator("#doors [data-unit]").first.click()
    page.wait_for_selector("#answer-note")
    page.locator("#answer-note").fill("behind the sofa")
    page.context.clear_cookies()
    page.locator('[data-answer="clear"]').click()
    page.wait_for_selector("#sign-again")
    assert page.locator("#answer-note").input_value() == "behind the sofa"
    with page.context.expect_page() as opened:
        page.locator("#sign-again a").click()
    sign_in(opened.value)
    opened.value.wait_for_url(f"{shut.url}/")
    opened.value.close()
    page.bring_to_front()
    page.wait_for_timeout(200)
    assert shut.new_rows() == ()
    page.evaluate("import('/files/plan/state.js').then(the => { the.state.patience = 300; })")
    until(page, lambda: page.locator('#form [aria-disabled="true"]').count() == 0)
    page.locator('[data-answer="clear"]').click()
    until(page, lambda: len(shut.new_rows()) == 1)
    assert shut.new_rows()[0].note == "behind the sofa"
    until(page, lambda: page.locator("#sign-again").count() == 0)
    forgive(new_page, "401", "Callback error")  # the second is Dash's word for a refused call


def test_axe_finds_nothing_on_the_pages_to_sign_in_and_out(new_page, shut, axe):
    """Contrast of the theme is among the rules; none of any weight is broken."""
    page = new_page(**PHONE, bypass_csp=True)
    page.goto(f"{shut.url}/sign-in")
    found = axe(page)
    page.locator("#who").fill("T1")
    page.locator("#phrase").fill("x")
    page.locator("button[type=submit]").click()
    page.wait_for_selector("#wrong")
    found += axe(page)
    sign_in(page)
    page.wait_for_url(f"{shut.url}/")
    page.goto(f"{shut.url}/sign-out")
    assert found + axe(page) == []
    forgive(new_page, "401")

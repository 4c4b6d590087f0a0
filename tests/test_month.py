"""The owner's month: better needs ground, what was done is counted, a board's copy names no unit."""

import datetime as dt
import io
import json
import re
from dataclasses import replace

import numpy as np
import pytest
from buildings import CODES, ON, clear, find, maple_row, report, row, treatment, view_of
from hypothesis import given, settings
from hypothesis import strategies as st
from small import LIVED_IN, small_session

from spread.cli import main
from spread.decisions.month.change import RESTS, SURE, change_of, shifts
from spread.decisions.month.month import done_between, last_month, month_of
from spread.programmes import columns as c
from spread.programmes.money import Prices
from spread.programmes.spent import budget_of, counted_work, spent
from spread.records.folder import FolderStore
from spread.records.items import read_items
from spread.records.promises import FolderPromises
from spread.records.summaries import Said, file_of, summary_of_text, text_of_summary, with_earlier
from spread.report.document import texts_of
from spread.report.month import MonthView, month_data, month_document, month_text, month_view
from spread.report.pdf import write_pdf
from spread.weeks import week_of
from spread.words import ENGLISH, Voice, say
from spread.words.month import ground, promised_words

SINCE = ON - dt.timedelta(days=28)
WEEKS = 26
FIRST = week_of(ON) - WEEKS + 1
LOOKS = tuple(clear(unit, 5) for unit in CODES)
"""A look in every unit within the period."""


def view_with(then, now, rows=(), *, before=None, after=None, good=True):
    """A view whose draws had ``then`` units infested on the first day of the period and have ``now`` today.

    ``before``, ``after``: chances of single units on the two days.
    """
    then, now = np.array(then), np.array(now)
    view = view_of(rows, after or {}, good=good)
    totals = np.tile(then[:, None], (1, WEEKS)).astype(np.int32)
    draws = (np.arange(view.network.size) < now[:, None]).astype(np.int8)
    weekly = np.repeat(view.posterior.chance[:, None], WEEKS, axis=1)
    for unit, chance in (before or {}).items():
        weekly[view.network.index[unit], :-1] = chance
    weights = np.zeros(len(draws))
    posterior = replace(view.posterior, totals=totals, draws=draws, weekly=weekly, log_weights=weights)
    return replace(view, posterior=posterior)


def verdict(*args, **more):
    return change_of(view_with(*args, **more), SINCE, ON).verdict


# -- better, worse, or nobody can tell


def test_it_is_draws_that_are_compared_and_not_bands():
    """Both bands are 2 to 11 and overlap almost whole; each draw has fallen by one."""
    then = np.arange(2, 12)
    change = change_of(view_with(then, then - 1, LOOKS), SINCE, ON)
    assert change.now.high > change.then.low
    assert (change.fell, change.rose, change.verdict) == (1.0, 0.0, "better")
    shuffled = change_of(view_with(then, (then - 1)[::-1], LOOKS), SINCE, ON)
    assert (shuffled.then, shuffled.now) == (change.then, change.now), "the bands are the same"
    assert shuffled.verdict == "unknown"


def test_a_rise_is_told_and_as_many_is_no_change():
    assert verdict([2] * 10, [4] * 10, [report("101", 3)]) == "worse"
    assert verdict([3] * 10, [3] * 10, LOOKS) == "same"
    assert verdict([3] * 10, [3] * 10, [report("101", 3)]) == "unknown", "nobody looked"


def test_without_a_row_nothing_is_told_in_either_direction():
    for now in (1, 3, 5):
        change = change_of(view_with([3] * 10, [now] * 10), SINCE, ON)
        assert (change.verdict, change.why_not) == ("unknown", "nothing")


def test_chains_that_do_not_agree_tell_nothing():
    change = change_of(view_with([5] * 10, [1] * 10, LOOKS, good=False), SINCE, ON)
    assert (change.verdict, change.why_not) == ("unknown", "unsettled")


def test_a_fall_that_only_a_treatment_promises_is_not_called_better():
    chances = {"before": {"101": 0.9, "102": 0.3}, "after": {"101": 0.1, "102": 0.2}}
    treated = [treatment("101", 4)]
    elsewhere = [clear(unit, 5) for unit in CODES if unit != "101"]
    change = change_of(view_with([5] * 10, [2] * 10, [*elsewhere, *treated], **chances), SINCE, ON)
    assert (change.verdict, change.why_not) == ("unknown", "treated")
    assert change.rests == pytest.approx(0.1 / 0.9)
    assert "no proof" in ground(change, ENGLISH)
    before = change_of(view_with([5] * 10, [2] * 10, [*LOOKS, *treated], **chances), SINCE, ON)
    assert before.why_not == "treated", "a look before the treatment says nothing of what it did"
    after = [*elsewhere, *treated, clear("101", 1)]
    assert verdict([5] * 10, [2] * 10, after, **chances) == "better"


@pytest.mark.parametrize(
    "look", [clear("101", 5, "dog"), clear("101", 5, "interview"), row("101", 5, found="unsure")]
)
def test_a_dog_hearsay_and_a_look_without_an_answer_are_no_ground(look):
    change = change_of(view_with([5] * 10, [2] * 10, [look]), SINCE, ON)
    assert change.looked == 0
    assert change.verdict == "unknown"


def test_a_day_before_the_window_is_told_by_nobody():
    view = view_with([5] * 10, [2] * 10, LOOKS)
    assert change_of(view, ON - dt.timedelta(weeks=WEEKS + 1), ON) is None
    assert change_of(replace(view, posterior=replace(view.posterior, totals=None)), SINCE, ON) is None


def test_the_end_of_a_month_is_the_beginning_of_the_next():
    view = view_with([0] * 10, [2] * 10, LOOKS)
    totals = np.tile(np.arange(WEEKS, dtype=np.int32), (10, 1))
    view = replace(view, posterior=replace(view.posterior, totals=totals))
    middle = ON - dt.timedelta(days=40)
    earlier = change_of(view, ON - dt.timedelta(days=70), middle - dt.timedelta(days=1))
    later = change_of(view, middle, ON)
    assert earlier.now.median == later.then.median == week_of(middle) - FIRST
    assert later.now.median == 2, "today is as the draws stand today"


LOG = st.lists(
    st.one_of(
        st.builds(
            clear, st.sampled_from(CODES), st.integers(0, 40), st.sampled_from(["brief-visual", "dog"])
        ),
        st.builds(find, st.sampled_from(CODES), st.integers(0, 40)),
        st.builds(treatment, st.sampled_from(CODES), st.integers(0, 40)),
        st.builds(report, st.sampled_from(CODES), st.integers(0, 40)),
    ),
    max_size=14,
    unique_by=lambda record: record.id,
)
NUMBERS = st.lists(st.integers(0, 12), min_size=8, max_size=8)
CHANCES = st.lists(st.floats(0.01, 0.99), min_size=len(CODES), max_size=len(CODES))


@settings(max_examples=150, deadline=None)
@given(NUMBERS, st.integers(-6, 6), LOG, CHANCES, CHANCES, st.booleans(), st.data())
def test_better_needs_ground_and_fewer_looks_never_make_it_look_better(
    then, step, rows, one, other, good, data
):
    now = np.clip(np.array(then) + step, 0, 12)
    chances = {"before": dict(zip(CODES, one, strict=True)), "after": dict(zip(CODES, other, strict=True))}
    whole = change_of(view_with(then, now, rows, good=good, **chances), SINCE, ON)
    words = say(whole, ENGLISH)
    assert words.startswith("Better") == (whole.verdict == "better")
    if whole.verdict == "better":
        assert whole.fell >= SURE
        assert (np.array(then) > now).mean() == pytest.approx(whole.fell)
        assert whole.looked >= whole.needed > 0
        assert whole.rests >= RESTS
        assert good
    if whole.verdict == "same":
        assert whole.looked >= whole.needed
    looks = [place for place, record in enumerate(rows) if record.is_look]
    if looks:
        gone = data.draw(st.sampled_from(looks))
        fewer = [record for place, record in enumerate(rows) if place != gone]
        less = change_of(view_with(then, now, fewer, good=good, **chances), SINCE, ON)
        calm = ("better", "same")
        assert less.verdict not in calm or whole.verdict == less.verdict


def test_what_moved_most_comes_first():
    view = view_with([5] * 4, [2] * 4, before={"101": 0.9, "105": 0.2}, after={"101": 0.1, "105": 0.6})
    assert [one.unit for one in shifts(view, SINCE, ON, 2)] == ["101", "105"]


# -- what was done


def test_a_period_is_counted_from_the_log():
    rows = [
        find("101", 60), treatment("101", 50), find("101", 20), treatment("101", 18),
        find("103", 10), report("103", 12), clear("105", 9), clear("105", 9, id="again"),
        row("106", 8, "no-access", "refused"), row("104", 8, "no-access", "nobody-home"), clear("104", 3),
        row("102", 8, "no-access", "nobody-home"), find("201", 35), clear("202", 6, "dog"),
    ]  # fmt: skip
    done = done_between(view_of(rows), SINCE, ON)
    assert done.found == ("101", "103")
    assert done.new == ("103",), "101 was known and under treatment"
    assert done.treated == ("101",)
    assert done.reported == ("103",)
    assert (done.refused, done.shut) == (("106",), ("102",)), "104 was entered later"
    numbers = {one.method: (one.number, one.units) for one in done.looks}
    assert numbers["brief-visual"] == (4, ("101", "103", "104", "105")), (
        "a row that says it again counts once"
    )
    assert numbers["dog"] == (1, ("202",))
    assert done.cleared == (), "clear looks alone clear nobody"


def test_the_last_whole_month_and_a_period_that_is_none(tmp_path):
    assert last_month(dt.date(2026, 3, 1)) == (dt.date(2026, 2, 1), dt.date(2026, 2, 28))
    assert last_month(dt.date(2026, 1, 20)) == (dt.date(2025, 12, 1), dt.date(2025, 12, 31))
    folder = str(small_session(tmp_path / "made", rows=LIVED_IN).building.folder)
    command = ["month", folder, "--on", "2026-11-25"]
    assert main([*command, "--from", "2026-11-20", "--to", "2026-11-01"]) == 2
    assert main([*command, "--from", "2026-12-20"]) == 2


def test_work_is_priced_by_the_buildings_own_prices():
    prices = Prices(hour=60.0, trip=10.0, knock=1.0)
    rows = [
        clear("101", 40), clear("101", 10), row("102", 10, "monitor", "interceptors", "no", days=14),
        find("103", 9, level="heavy"), treatment("103", 8), report("104", 8),
        row("105", 8, "no-access", "refused"),
    ]  # fmt: skip
    told = spent(rows, prices, SINCE, ON, 100.0)
    look, trap = prices.look["brief-visual"], prices.look["interceptors"] + prices.check["interceptors"]
    minutes = 2 * look + trap + prices.treat["heavy"] + 6 * 1.0 + 3 * 10.0 + prices.report
    assert told.hours == pytest.approx(minutes / 60.0)
    fees = 2 * prices.fee["brief-visual"] + prices.fee["interceptors"] + prices.material["combined"]
    assert told.total == pytest.approx(minutes + fees)
    assert "more" in say(told, ENGLISH)
    assert "are left" in say(replace(told, budget=1000.0), ENGLISH)
    assert "No plan" in say(replace(told, budget=None), ENGLISH)


def test_encasements_of_the_log_are_counted_once_a_household_and_only_where_they_have_a_price():
    left = read_items("encasement: intact, at bed 1")
    before, first, again, later = (replace(treatment("103", days), items=left) for days in (60, 20, 12, 4))
    torn = replace(treatment("105", 10), items=read_items("encasement: torn, at bed 1"))
    rows = [first, again, treatment("104", 15), torn]

    def count(rows, encase=True):
        return counted_work(rows, SINCE, ON, encase=encase)[c.ENCASEMENTS]

    assert before.when < SINCE < first.when
    assert (count(rows), count(rows, encase=False), count([before, *rows])) == (1, 0, 0)
    gone = row("103", 8, "turnover", "moved-out")
    assert count([*rows, gone, later]) == 2


def test_a_budget_a_month_goes_by_the_length_of_the_period():
    assert budget_of(None, SINCE, ON) is None
    assert budget_of(90.0, dt.date(2026, 9, 1), dt.date(2026, 11, 30)) == 270.0
    assert budget_of(3044.0, dt.date(2026, 9, 2), dt.date(2026, 9, 11)) == pytest.approx(1000.0)


# -- what was said, and what is known now


def summary(on=ON, rows=5, median=4, **more):
    from spread.records.summaries import Owed, Summary, Worth

    usual = {
        "units": 12, "known": 1, "low": 2, "high": 9, "trend": "unknown", "fell": 0.2, "rose": 0.3,
        "settled": True,
        "chances": {"101": 0.5}, "doors": (Worth(20.0, 0.4),), "owed": (Owed("101", "treat", on, on, 40.0),),
    }  # fmt: skip
    return Summary(on=on, rows=rows, median=median, **(usual | more))


def test_an_answer_is_kept_by_day_and_an_older_one_takes_no_newer_ones_place():
    first = with_earlier(summary(ON - dt.timedelta(days=30), rows=3, median=6), None)
    both = with_earlier(summary(), first)
    assert [(one.on, one.median) for one in both.said] == [(ON - dt.timedelta(days=30), 6), (ON, 4)]
    assert summary_of_text(text_of_summary(both)) == both
    past = with_earlier(summary(ON - dt.timedelta(days=60), rows=2, median=1), both)
    assert (past.on, past.median) == (ON, 4)
    assert past.said[0].median == 1
    again = with_earlier(summary(ON - dt.timedelta(days=30), rows=2, median=11), past)
    assert [one.median for one in again.said] == [1, 6, 4], "what was said of a day stays"


@pytest.mark.parametrize(
    "text", ["", "{", "[]", "null", '{"on": "2026-01-01"}', b"\xff", '{"on": 3, "rows": []}']
)
def test_a_file_that_is_no_summary_is_none(text):
    assert summary_of_text(text) is None


def test_where_today_knows_otherwise_than_was_said_both_are_told(tmp_path):
    view = view_with([5] * 10, [2] * 10, LOOKS)
    promises = FolderPromises(tmp_path / "records.csv")
    said = [Said(SINCE - dt.timedelta(days=2), 1, 3, 4, 9), Said(SINCE - dt.timedelta(days=30), 9, 9, 9, 1)]
    month = month_of(view, promises, said, SINCE, ON)
    assert month.said_then == said[0]
    assert month.said_at_end is None
    session = small_session(tmp_path / "made")
    words = " ".join(texts_of(month_document(session, MonthView(month, None))))
    assert "about 3 (90% sure: 1 to 4)" in words
    assert "about 5 (90% sure: 5 to 5)" in words
    assert "has changed that" in words


def test_a_fit_keeps_what_it_says_and_a_folder_that_cannot_be_written_goes_without(tmp_path, monkeypatch):
    session = small_session(tmp_path / "made", rows=LIVED_IN)
    assert session.summary() is None
    assert session.keep_summary()
    kept = session.summary()
    assert (kept.on, kept.rows, kept.units) == (session.on, 4, len(session.plan.units))
    assert (kept.low, kept.median, kept.high) == session.view.posterior.infested_count()
    assert {one.unit for one in kept.owed if one.what == "treat"} == {"104"}
    assert list(kept.doors) == sorted(kept.doors, key=lambda door: -door.averted / door.minutes)
    path = session.building.folder / file_of("records.csv")
    before = path.stat().st_mtime_ns
    assert session.keep_summary()
    assert path.stat().st_mtime_ns == before, "the same is not written again"
    path.unlink()

    def refuse(self, name, text):
        raise PermissionError(13, "read-only")

    monkeypatch.setattr(FolderStore, "keep_beside", refuse)
    assert not session.keep_summary()


# -- the page that is handed over


def heavy_month(tmp_path):
    """As much as a page may have to hold: every unit in every row, warnings and prices."""
    rows = [
        (unit.id, 30 + n % 20, kind, method, found)
        for unit in small_session(tmp_path / "plain", 3, 10).plan.units.values()
        for n, (kind, method, found) in enumerate(
            [("inspection", "brief-visual", "yes"), ("treatment", "combined", ""), ("report", "", "")]
        )
    ]
    session = small_session(tmp_path / "made", 3, 10, rows=rows)
    (session.building.folder / "prices.toml").write_text("hour = 65\n", encoding="utf-8")
    return session


def pages(pdf):
    pypdf = pytest.importorskip("pypdf")
    return len(pypdf.PdfReader(io.BytesIO(pdf)).pages)


def test_letters_are_small_only_where_the_page_has_no_room_for_usual_ones(tmp_path):
    pypdf, _ = pytest.importorskip("pypdf"), pytest.importorskip("typst")
    session = small_session(tmp_path / "light", rows=LIVED_IN)
    usual = month_document(session, month_view(session))
    sizes = []
    for made in (usual, replace(usual, blocks=usual.blocks * 2)):
        pdf, found = write_pdf(made), []
        assert pages(pdf) == 1
        pypdf.PdfReader(io.BytesIO(pdf)).pages[0].extract_text(
            visitor_text=lambda text, _cm, tm, _font, size, found=found: (
                found.append(size * tm[3]) if text.strip() == "Units" else None
            )
        )
        sizes.append(min(map(abs, found)))
    assert sizes[0] > 8.5
    assert sizes[1] < 7.5


def test_it_is_one_page_however_much_there_is_and_a_boards_copy_names_no_unit(tmp_path):
    pytest.importorskip("typst")
    session = heavy_month(tmp_path)
    shown = month_view(session)
    assert len(shown.month.done.found) > 50
    for language in ("en", "es"):
        for board in (False, True):
            made = month_document(session, shown, Voice(language), board=board)
            assert pages(write_pdf(made)) == pages(write_pdf(made, "letter")) == 1
    units = tuple(session.plan.units)
    board = month_document(session, shown, board=True)
    told = " ".join(texts_of(board)) + "".join(getattr(block, "alt", "") for block in board.blocks)
    texts = {
        "page": told,
        "text": month_text(session, shown, board=True),
        "json": json.dumps(month_data(session, shown, board=True)),
    }
    for name, text in texts.items():
        words = set(re.findall(r"\w+", re.sub(r"\d+[,.]\d[\d,.]*", "", text)))  # amounts are no codes
        assert not words & set(units), name
    ours = " ".join(texts_of(month_document(session, shown)))
    assert units[0] in ours
    assert "and " in ours


def test_a_report_says_what_it_rests_on_and_its_caution(tmp_path):
    session = small_session(tmp_path / "made", rows=LIVED_IN)
    shown = month_view(session, dt.date(2026, 11, 1), dt.date(2026, 11, 25))
    text = month_text(session, shown)
    assert "A low chance clears no unit" in text
    assert "104" in text
    assert shown.spent is None
    assert "no money is told" in text
    data = month_data(session, shown)
    assert data["verdict"] == shown.month.change.verdict
    assert data["done"]["found"] == ["104"]
    assert month_data(session, shown, board=True)["done"]["found"] == 1
    assert "too few looks" in promised_words(replace(shown.month.promised, looks=3), ENGLISH)


def test_the_command_prints_writes_and_keeps(tmp_path, capsys):
    folder = small_session(tmp_path / "made", rows=LIVED_IN).building.folder
    out = tmp_path / "month.html"
    command = ["month", str(folder), "--on", "2026-11-25", "--html", str(out), "--board", "--json"]
    assert main(command) == 0
    data = json.loads(capsys.readouterr().out)
    assert data["files"] == ["month.html"]
    assert data["since"] == "2026-10-01"
    assert "<title>How it stands</title>" in out.read_text(encoding="utf-8")
    assert (folder / file_of("records.csv")).is_file()


def test_the_page_has_the_answer_first_and_an_owner_reads_no_unit(tmp_path):
    from dashboard.month.page import asked_view, build_layout
    from spread.errors import SettingsError

    session = small_session(tmp_path / "made", rows=LIVED_IN)
    shown = asked_view(session, "2026-11-01", "2026-11-25")

    def page(**more):
        made = build_layout(session, shown, **more).to_plotly_json()
        return json.dumps(made, default=lambda one: one.to_plotly_json())

    assert ": 104" in page() or '"104"' in page()
    assert '"104"' not in page(board=True)
    assert "month-answer" in page()
    with pytest.raises(SettingsError):
        asked_view(session, "2026-13-01", "")


def test_the_demo_plan_is_what_these_tests_take_it_for():
    assert len(maple_row().units) == len(CODES) == 12

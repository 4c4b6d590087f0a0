"""The case of a unit: what calms has ground, whatever the last row says; who must act; what a note proves."""

import datetime as dt
import itertools

import pytest
from buildings import ON, clear, day, find, make_building, report, row, treatment
from hypothesis import given, settings
from hypothesis import strategies as st
from test_looked import BED, INTACT, seen

from spread.building import load_building
from spread.cli import main
from spread.contacts.relations import ring_around
from spread.decisions.case.case import STAGES, case_of
from spread.decisions.case.followup import followup_of
from spread.decisions.duties.owed import duties
from spread.records.kinds import METHODS_OF, SAID, said_by
from spread.report.document import texts_of
from spread.report.duties_text import neighbour_notice
from spread.report.notices import Visit, notices_for
from spread.trade.rules import load_rules
from spread.words import ENGLISH, Voice, say
from spread.words.followup import sentences

CALMING = {
    "en": ("does not mean that there are bed bugs", "found no signs", "proves nothing", "not sure yet",
           "you do not have to do anything", "does not mean that any were found",
           "do not mean that it has failed"),
    "es": ("no quiere decir que", "no encontramos señales", "no prueba nada", "todavía no lo sabemos",
           "no tiene que hacer nada"),
}  # fmt: skip


def home(folder, rows):
    return load_building(make_building(folder, rows))


def said(notice):
    return " ".join(texts_of(notice.document)).lower()


def unsure(ago, **more):
    return row("103", ago, method=more.pop("method", "brief-visual"), found="unsure", **more)


def test_a_home_with_184_bugs_sprayed_twice_is_not_told_that_nobody_is_sure(tmp_path):
    rows = [
        report("103", 60), row("103", 55, found="yes", count=184, evidence="live"),
        treatment("103", 50, "spray"), treatment("103", 35, "spray"), unsure(3),
    ]  # fmt: skip
    building = home(tmp_path / "maple", rows)
    (notice,) = notices_for(building, load_rules(), "103", Visit("result", ON, ON))
    assert notice.name == "result-open"
    text = said(notice)
    assert "not clear of bed bugs yet" in text
    assert "this look could not tell how many are left" in text
    assert "bugs found on thursday 21 march 2024" in text
    around = notices_for(building, load_rules(), "101", Visit("entry", ON, ON), neighbours=True)
    mine = next(one for one in around if one.unit == "103")
    assert mine.name == "entry-inspection"
    for told in (text, said(mine)):
        assert not [words for words in CALMING["en"] if words in told]


AGO = st.integers(0, 200)
ROW = st.one_of(
    st.builds(unsure, AGO),
    st.builds(lambda ago: clear("103", ago), AGO),
    st.builds(lambda ago: clear("103", ago, items=seen("door-stop")), AGO),
    st.builds(lambda ago: clear("103", ago, items=(*seen(*BED), INTACT)), AGO),
    st.builds(lambda ago: clear("103", ago, "dog"), AGO),
    st.builds(lambda ago: clear("103", ago, "interview"), AGO),
    st.builds(lambda ago: row("103", ago, method="dog", found="yes", evidence="alert"), AGO),
    st.builds(lambda ago: report("103", ago), AGO),
    st.builds(lambda ago: report("103", ago, found="no"), AGO),
    st.builds(lambda ago: find("103", ago), AGO),
    st.builds(lambda ago: treatment("103", ago), AGO),
    st.builds(lambda ago: row("103", ago, "monitor", "interceptors", "no", days=14), AGO),
    st.builds(lambda ago: row("103", ago, "turnover", "moved-out"), AGO),
    st.builds(lambda ago: row("103", ago, "no-access"), AGO),
    st.builds(lambda ago: row("103", ago, "note", "result-notice"), AGO),
)


@settings(max_examples=150, deadline=None)
@given(st.lists(ROW, max_size=14))
def test_a_case_is_calm_only_where_nothing_is_open(rows):
    """By hand: no find or treatment that the whole clearance rule has not closed, no sign unlooked after."""
    case = case_of(rows, "103", ON)
    assert case.stage in STAGES
    ground = followup_of(rows, "103", ON, 0.0)
    known = any(r.kind == "treatment" for r in rows) or any(
        r.kind == "inspection" and r.found == "yes" and r.method == "brief-visual" for r in rows
    )
    if case.calm:
        assert ground.met_on is not None or not known
        whole = [r.when for r in rows if r.found == "no" and r.method == "brief-visual" and r.is_look
                 and (not r.items or len(r.items) > 1)]  # fmt: skip
        for sign in rows:
            open_sign = sign.is_complaint or (sign.is_look and sign.found in ("unsure", "yes"))
            assert not open_sign or any(on > sign.when for on in whole), sign
        assert not case.opened
    else:
        assert case.acts, "somebody must act"
        assert case.opened is not None
    assert (case.stage == "infested") == (ground.state == "infested")


@pytest.mark.parametrize("language", ["en", "es"])
@pytest.mark.parametrize("last", range(8))
def test_no_notice_calms_a_home_whose_case_is_open(tmp_path, language, last):
    """Whatever the last row is, and whether it is the unit in the middle or a neighbour."""
    lasts = [
        unsure(2), clear("103", 2), clear("103", 2, items=seen("door-stop")), clear("103", 2, "dog"),
        clear("103", 2, items=(*seen(*BED), INTACT)),
        row("103", 2, method="dog", found="yes", evidence="alert"),
        row("103", 2, "monitor", "interceptors", "no", days=14), row("103", 2, "turnover", "moved-out"),
    ]  # fmt: skip
    pasts = {"found": [find("103", 40)], "treated": [find("103", 40), treatment("103", 30)],
             "treated blind": [treatment("103", 30)]}  # fmt: skip
    for name, past in pasts.items():
        building = home(tmp_path / name.replace(" ", "-"), [*past, lasts[last]])
        middle = next(iter(ring_around(building.contacts, "103")))
        for kind, unit in itertools.product(("entry", "prepare", "result"), ("103", middle)):
            if kind == "result" and (unit == middle or not case_of(building.log.of("103"), "103", ON).look):
                continue
            for purpose in ("inspection", "treatment"):
                visit = Visit(kind, ON, ON, purpose)
                made = notices_for(building, load_rules(), unit, visit, language=language, neighbours=True)
                text = said(next(one for one in made if one.unit == "103"))
                calming = [words for words in CALMING[language] if words in text]
                assert not calming or calming == ["you do not have to do anything"], (name, kind, calming)


def test_the_words_for_neighbours_calm_only_where_nothing_is_on_record(tmp_path, capsys):
    rules = load_rules()
    assert "This does not mean" in neighbour_notice(rules)
    assert "This does not mean" not in neighbour_notice(rules, calm=False)
    folder = make_building(tmp_path / "maple", [find("103", 5), unsure(3)])
    neighbour = next(iter(ring_around(load_building(folder).contacts, "103")))
    assert main(["duties", str(folder), "--on", ON.isoformat()]) == 0
    assert "This does not mean" in " ".join(capsys.readouterr().out.split())
    other = make_building(tmp_path / "oak", [find("103", 5), report(neighbour, 2)])
    assert main(["duties", str(other), "--on", ON.isoformat()]) == 0
    out = " ".join(capsys.readouterr().out.split())
    assert "yours is one of them" in out
    assert "This does not mean" not in out


def test_a_case_knows_its_dates_proof_and_who_must_act():
    rows = [report("103", 60, id="r1")]
    case = case_of(rows, "103", ON)
    assert (case.stage, case.opened, case.complaint.row) == ("asked", day(60), "r1")
    assert [(act.who, act.what) for act in case.acts] == [("office", "acknowledge"), ("technician", "look")]
    assert "To do: the office acknowledges the report" in say(case, ENGLISH)
    rows += [row("103", 59, "note", "acknowledged", id="a1"), find("103", 55, id="f1")]
    case = case_of(rows, "103", ON)
    assert (case.stage, case.acknowledged.row, case.find.row) == ("infested", "a1", "f1")
    assert [(act.who, act.what, act.since) for act in case.acts] == [("firm", "treat", day(55))]
    rows += [treatment("103", 50, id="t1"), row("103", 49, "note", "result-notice", id="n1")]
    case = case_of(rows, "103", ON)
    assert (case.stage, case.treatments, case.result_notice.row, case.calm) == ("open", 1, "n1", False)
    one = followup_of(rows, "103", ON, 0.2)
    assert one.case == case, "panel, why, sheet and plan speak from the same case"
    assert "Open since Sat 16 Mar 2024, 1 treatment. To do: a technician comes again" in " ".join(
        sentences(one, ENGLISH)
    )
    assert "Pendiente" in say(case, Voice("es"))


def test_kinds_of_note_say_what_was_said_and_old_logs_still_read():
    assert set(SAID) <= set(METHODS_OF["note"])
    for prefix, method in zip(
        ("ack", "contact", "agent", "written", "notice", "result", "order"), SAID, strict=True
    ):
        assert said_by(row("103", 1, "note", note=f" {prefix.upper()}: by letter")) == method
        assert said_by(row("103", 1, "note", method, note="by letter")) == method
    assert said_by(row("103", 1, "note", note="acknowledged by letter")) == ""
    assert said_by(row("103", 1, "note", "order", note="ack: of the order")) == "order"
    assert said_by(report("103", 1, note="ack: yes")) == ""


def test_a_note_with_a_method_proves_a_duty_as_the_old_prefix_does(tmp_path):
    rules = load_rules("philadelphia")
    told = {}
    for name, proof in {
        "old": row("103", 3, "note", note="ack: letter", id="proof"),
        "new": row("103", 3, "note", "acknowledged", id="proof"),
    }.items():
        building = home(tmp_path / name, [report("103", 5), proof])
        owed = duties(building.log, building.contacts, rules, ON)
        told[name] = next(duty.proof for duty in owed if duty.step == "acknowledge")
    assert told == {"old": "proof", "new": "proof"}


def test_a_partial_look_is_no_result_and_says_what_to_do(tmp_path, capsys):
    folder = make_building(tmp_path / "maple", [])
    fields = ["record", str(folder), "--unit", "103", "--kind", "inspection", "--method", "thorough-visual",
              "--found", "no", "--items", "door-stop: nothing; books-toys: nothing",
              "--when", "2024-05-10"]  # fmt: skip
    assert main(fields) == 0
    capsys.readouterr()
    assert main(["notices", str(folder), "--unit", "103", "--kind", "result", "--when", "2024-05-15",
                 "-o", str(tmp_path / "out")]) == 2  # fmt: skip
    assert "record the look first, with the sleeping places that were seen" in capsys.readouterr().err
    assert dt.date(2024, 5, 15) == ON

"""Reasons read as sentences and say only what the log and the plan say."""

import re

import networkx as nx
import pytest
from buildings import CODES, clear, find, maple_contacts, report, row, treatment, view_of
from hypothesis import given, settings
from hypothesis import strategies as st
from test_doors import KIND, made

from spread.contacts.links import Link
from spread.decisions.doors.reasons import how_sure, reasons_for
from spread.trade import detection
from spread.words import ENGLISH
from spread.words.doors import reason_words, sure_words

WALL = "7.5 m"  # the shared wall of two units of Maple Row, as drawn
NONE = "No contact stands out as a source; what people bring in weighs most."


def said(unit, rows=(), chances=None, **more):
    return reason_words(reasons_for(view_of(rows, chances, **more), unit), ENGLISH)


def test_an_empty_log_gives_a_plain_reason():
    assert said("101") == (NONE, "No look at it is on record.")


def test_a_find_beside_is_told_with_route_level_and_day():
    reasons = said("101", [find("103", 12, "heavy")], {"103": 0.98})
    assert reasons[0] == (
        f"Shares {WALL} of wall with 103, where a heavy infestation was found 12 days ago and not treated "
        "since."
    )


def test_a_find_treated_since_says_when():
    rows = [find("103", 12, "heavy"), treatment("103", 5)]
    assert said("101", rows, {"103": 0.6})[0].endswith("was found 12 days ago and treated 5 days ago.")
    same_day = [find("103", 12, "heavy"), treatment("103", 12)]
    assert said("101", same_day, {"103": 0.6})[0].endswith("was found 12 days ago and treated the same day.")


def test_a_find_without_a_level_and_a_treatment_without_a_find_read_well():
    assert "where an infestation was found 12 days ago" in said("101", [find("103", 12, "")], {"103": 0.9})[0]
    reason = said("101", [treatment("103", 5)], {"103": 0.5})[0]
    assert (
        reason
        == f"Shares {WALL} of wall with 103, which was treated 5 days ago and has had no clear look since."
    )


def test_above_below_and_across_are_told_as_they_lie():
    found = [find("103", 3, "low")]
    assert said("203", found, {"103": 0.95})[0].startswith("Directly above 103, where a low infestation")
    assert said("104", found, {"103": 0.95})[0].startswith("Across the hallway from 103, where")
    assert said("106", found, {"103": 0.95}, level=4)[0].startswith(
        "Across and 1 door along the hallway from 103, "
    )
    assert said("105", [find("205", 3)], {"205": 0.95})[0].startswith("Directly below 205, ")


def test_a_riser_and_a_tie_begin_a_sentence():
    reason = said("201", [find("103", 3)], {"103": 0.95}, level=4)[0]
    assert reason.startswith("On the same riser, 1 floor up from 103, where")
    graph = maple_contacts((Link("102", "205", "shares a laundry day with", 5.0),))
    reason = said("102", [find("205", 3)], {"205": 0.95}, graph=graph)[0]
    assert reason.startswith("Shares a laundry day with 205, where")


def test_a_suspected_contact_is_named_with_what_speaks_for_it():
    chances = {"103": 0.3}
    wall = f"Shares {WALL} of wall with 103, where "
    assert said("101", [], chances)[0] == f"{wall}the chance is 30% and no look is on record."
    assert said("101", [clear("103", 21)], chances)[0] == (
        f"{wall}the chance is 30%; the last look, 3 weeks ago, found nothing."
    )
    assert said("101", [row("103", 21, found="unsure")], chances)[0] == (
        f"{wall}the chance is 30%; the last look, 3 weeks ago, could not tell."
    )
    assert said("101", [report("103", 4)], chances)[0] == (
        f"{wall}bugs were reported 4 days ago (chance now 30%)."
    )
    alert = row("103", 4, method="dog", found="yes", evidence="alert")
    assert said("101", [alert], chances)[0] == f"{wall}a dog alerted 4 days ago (chance now 30%)."
    past = [find("103", 150, "low"), treatment("103", 149), clear("103", 130), clear("103", 110)]
    assert said("101", past, chances)[0] == (
        f"{wall}a low infestation was found 5 months ago and treated 5 months ago; two clear looks since "
        "(chance now 30%)."
    )


def test_a_contact_is_named_by_its_share_and_not_by_its_chance_alone():
    assert said("101", [], {"103": 0.3, "101": 0.4})[0].startswith(f"Shares {WALL} of wall with 103, where")
    assert said("101", [], {"103": 0.05})[0] == NONE
    assert said("101", [], {"103": 0.25})[0].endswith("where the chance is 25% and no look is on record.")
    assert "103, where bugs were reported" in said("101", [report("103", 9)], {"103": 0.25})[0]


def test_a_report_is_told_and_whether_anybody_looked():
    assert said("101", [report("101", 5)])[0] == (
        "Bugs were reported there 5 days ago and nobody has looked since."
    )
    assert said("101", [report("101", 5), clear("101", 3)])[0] == "Bugs were reported there 5 days ago."
    assert said("101", [report("101", 5), row("101", 3, "no-access")])[0].endswith("has looked since.")
    assert not any("reported" in s for s in said("101", [report("101", 200)]))
    assert not any("reported" in s for s in said("101", [report("101", 5, found="no")]))


def test_an_alert_is_told_as_unconfirmed_until_somebody_looks():
    alert = row("101", 6, method="dog", found="yes", evidence="alert")
    assert said("101", [alert])[0] == "A dog alerted 6 days ago; nobody has confirmed it."
    assert not any("alerted" in s for s in said("101", [alert, clear("101", 2)]))
    word = row("101", 6, method="interview", found="yes")
    assert said("101", [word])[0] == (
        "Bugs were spoken of in an interview 6 days ago; nobody has confirmed it."
    )
    dead = row("101", 1, found="yes", evidence="dead")
    assert said("101", [dead])[0] == (
        "The last look, yesterday, came upon dead bugs and nothing more, which confirms nothing."
    )


@pytest.mark.parametrize(
    ("look", "words"),
    [
        (clear("101", 30), "4 weeks ago (brief look)"),
        (clear("101", 30, "dog"), "4 weeks ago (dog)"),
        (row("101", 0, "monitor", "interceptors", "no", days=14), "today (interceptors)"),
    ],
    ids=["brief look", "dog", "interceptors"],
)
def test_the_last_look_is_told_with_what_it_would_miss(look, words):
    missed = 1 - detection.sensitivity(look.method, look.days)[2]
    expected = f"The last look, {words}, found nothing; it would miss about {missed:.0%} of low infestations."
    assert expected in said("101", [look])


def test_a_longer_monitor_period_misses_less():
    def missed(days):
        reasons = said("101", [row("101", 3, "monitor", "interceptors", "no", days=days)])
        return int(re.search(r"miss about (\d+)%", " ".join(reasons))[1])

    assert missed(28) < missed(14) < missed(7)


def test_an_unsure_last_look_is_told():
    assert "The last look, 4 weeks ago (brief look), could not tell." in said(
        "101", [row("101", 30, found="unsure")]
    )


def test_shut_doors_vacancy_and_a_move_in_are_told():
    once = said("101", [row("101", 5, "no-access", "nobody-home")])
    assert "There was no access last time." in once
    twice = said("101", [row("101", 5, "no-access", "refused"), row("101", 2, "no-access")])
    assert "There was no access the last 2 times." in twice
    empty = said("101", [row("101", 50, "turnover", "moved-out")])
    assert "It stands empty, which clears nothing: bugs wait for months." in empty
    assert "Somebody moved in 7 weeks ago." in said("101", [row("101", 50, "turnover", "moved-in")])
    assert not any("moved in" in s for s in said("101", [row("101", 190, "turnover", "moved-in")]))


def test_a_unit_back_on_the_list_says_what_it_went_through():
    rows = [find("101", 150, "heavy"), treatment("101", 149), clear("101", 130), clear("101", 110)]
    assert said("101", rows)[0] == "A heavy infestation was found there 5 months ago; two clear looks since."
    assert said("101", rows[1:])[0] == "It was treated 5 months ago; two clear looks since."


def test_a_known_unit_says_what_was_found_how_and_what_was_done():
    found = find("101", 15, "moderate", evidence="live+stains+skins")
    assert said("101", [found])[:2] == (
        "A moderate infestation was found 15 days ago in a brief look (live bugs, cast skins, stains).",
        "Not treated since.",
    )
    caught = row("101", 8, "monitor", "interceptors", "yes", days=14)
    assert said("101", [found, treatment("101", 10), caught])[:2] == (
        "An infestation was found 8 days ago with interceptors.",
        "Not treated since.",
    )
    treated = [found, treatment("101", 10, "whole-room-heat")]
    assert said("101", treated)[1] == "Treated 10 days ago (whole-room heat treatment); no clear look since."
    assert said("101", [*treated, clear("101", 3)])[1].endswith("; one clear look since.")
    assert said("101", [treatment("101", 15), find("101", 15)])[1] == (
        "Treated the same day (combined treatment); no clear look since."
    )


def test_a_known_unit_tells_of_reports_and_alerts_after_its_find():
    known = [find("101", 30), treatment("101", 28)]
    assert "Bugs were reported there 3 days ago and nobody has looked since." in said(
        "101", [*known, report("101", 3)]
    )
    alert = row("101", 3, method="dog", found="yes", evidence="alert")
    assert "A dog alerted 3 days ago; nobody has confirmed it." in said("101", [*known, alert])
    earlier = row("101", 30, method="dog", found="yes", evidence="alert")
    assert not any("confirmed" in s for s in said("101", [earlier, *known[:1]])), "the find confirmed it"


def test_a_known_neighbour_of_a_known_unit_is_told():
    reasons = said("101", [find("101", 5), find("103", 9, "heavy")], {"101": 0.95, "103": 0.99})
    assert reasons[2].startswith(
        f"Shares {WALL} of wall with 103, where a heavy infestation was found 9 days"
    )


def test_a_unit_without_contacts_says_so():
    graph = nx.MultiGraph()
    graph.add_node("gatehouse", index=0, levels=(0,), floors=("1",), area=40.0, stack="")
    assert reason_words(reasons_for(view_of(graph=graph), "gatehouse"), ENGLISH) == (
        "The plan shows no contact with another unit; what people bring in remains.",
        "No look at it is on record.",
    )


BRIEF_TWICE = [clear("101", 20), clear("101", 10)]


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        ([], "nothing but neighbours to go on"),
        ([row("101", 5, found="unsure"), row("101", 4, "no-access")], "nothing but neighbours to go on"),
        ([clear("101", 9, "interview")], "nothing but neighbours to go on"),
        ([report("101", 5)], "a report to go on"),
        ([report("101", 5), clear("101", 3)], "little to go on"),
        ([clear("101", 10)], "little to go on"),
        (BRIEF_TWICE, "well looked at"),
        ([clear("101", 10, "thorough-visual")], "well looked at"),
        ([clear("101", 300), clear("101", 290)], "nothing but neighbours to go on"),
        ([find("101", 5)], "a find to go on"),
        ([*BRIEF_TWICE, find("101", 30), treatment("101", 9)], "not looked at since the treatment"),
        ([find("101", 30), treatment("101", 29), clear("101", 9)], "little to go on"),
    ],
)  # fmt: skip
def test_how_sure_says_what_the_chance_rests_on(rows, words):
    """By hand: a brief look misses 0.4 of low infestations, so two miss 0.16; a thorough one 0.3."""
    assert sure_words(how_sure(view_of(rows), "101"), ENGLISH) == words
    assert sure_words(how_sure(view_of(rows, good=False), "101"), ENGLISH) == "figures not settled yet"
    assert "clear" not in words


def test_without_contacts_there_is_nothing_to_go_on():
    graph = nx.MultiGraph()
    graph.add_node("gatehouse", index=0, levels=(0,), floors=("1",), area=40.0, stack="")
    assert sure_words(how_sure(view_of(graph=graph), "gatehouse"), ENGLISH) == "nothing to go on"


SENTENCE = re.compile(r"[A-Z0-9][^\n]*[^ .]\.")


@settings(max_examples=150, deadline=None)
@given(
    st.lists(st.tuples(st.sampled_from(CODES), st.integers(-4, 800), KIND), max_size=16),
    st.lists(st.floats(0.0, 1.0), min_size=12, max_size=12),
)
def test_whatever_the_log_reasons_are_one_to_four_sentences_that_clear_nobody(drawn, chances):
    rows = [made(unit, ago, kind, k) for k, (unit, ago, kind) in enumerate(drawn)]
    rows = [r if r.kind != "report" else report(r.unit, 0, id=r.id, by="caller-7") for r in rows]
    view = view_of(rows, dict(zip(CODES, chances, strict=True)))
    for unit in CODES:
        reasons = reason_words(reasons_for(view, unit), ENGLISH)
        assert 1 <= len(reasons) <= 4
        assert len(set(reasons)) == len(reasons)
        for sentence in reasons:
            assert SENTENCE.fullmatch(sentence), sentence
            assert "cleared" not in sentence
            assert "caller-7" not in sentence, "who reported is nobody's business"
            assert not re.search(r"\b0(\.0)? m\b|None|nan|  |\b1 (weeks|months|doors|floors)\b", sentence)
            assert sentence.count("which") <= 1

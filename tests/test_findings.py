"""From findings to a level with its reason, and from findings to a likelihood."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest
from buildings import ON, row
from hypothesis import given, settings
from hypothesis import strategies as st

from spread.decisions.room.findings import propose_for, propose_level, strange_items
from spread.posterior import look_items
from spread.posterior.looks import look_likelihood
from spread.records.items import read_items
from spread.records.kinds import EVIDENCE, FOUND, LEVELS, LOOKS, MONITORS, Finding
from spread.trade import detection
from spread.words import ENGLISH, say

TREATED = dt.date(2024, 4, 1)

PRIOR = np.array([0.877, 0.0246, 0.0369, 0.0369, 0.0246])
"""12.3 % of apartments infested (Wang et al. 2016, J Med Entomol 53:639), the levels 20, 30, 30 and 20 %
of them (assumption of the calibration)."""


def level(text, **more):
    return propose_level(read_items(text), **more)


def told(proposal):
    return say(proposal, ENGLISH)


def look(items, found="yes", method="thorough-visual", **more):
    kind = "monitor" if method in MONITORS else "inspection"
    read = read_items(items)
    signs = frozenset().union(*(one.evidence for one in read))
    record = row("101", 0, kind, method, found, items=read, **more)
    return replace(record, evidence=signs)


def infested(likelihood):
    after = PRIOR * likelihood
    return float(1.0 - after[0] / after.sum())


# The level.


@pytest.mark.parametrize(
    ("bugs", "expected"),
    [(1, "trace"), (3, "trace"), (4, "low"), (12, "low"), (13, "moderate"), (50, "moderate"), (51, "heavy")],
)
def test_live_bugs_are_graded_by_the_count_classes(bugs, expected):
    """1-3, 4-12, 13-50, more; the cut at 12 is that of Singh et al. 2017, doi 10.3390/insects8030076."""
    assert level(f"headboard: live, {bugs}").level == expected
    if bugs > 1:
        assert level(f"headboard: live, 1; mattress: live+skins, {bugs - 1}").level == expected


def test_bugs_caught_in_fourteen_days_count_with_those_seen():
    assert level("headboard: live, 10", caught=2).level == "low"
    assert level("headboard: live, 10", caught=3).level == "moderate"


def test_one_cluster_of_signs_is_a_trace_where_nothing_was_ever_treated():
    """NPMA Best Management Practices 2016, 9.4: taken for active only if the area was never treated."""
    one = level("headboard: stains+skins")
    assert (one.found, one.level) == ("yes", "trace")
    assert "never treated" in told(one)
    assert level("headboard: stains; mattress: skins").level == "low"


def test_the_same_signs_after_a_treatment_are_past_or_present_and_propose_no_level():
    one = level("headboard: stains; mattress: skins", treated_on=TREATED)
    assert (one.found, one.level) == ("unsure", "")
    assert "Mon 1 Apr 2024" in told(one)
    assert "past or present" in told(one)


@pytest.mark.parametrize("text", ["headboard: live, 2; mattress: stains", "headboard: eggs; sofa: skins"])
def test_live_bugs_and_viable_eggs_count_whatever_was_treated(text):
    assert level(text) == level(text, treated_on=TREATED)
    assert level(text).found == "yes"
    assert level(text).level == "trace"


def test_what_was_not_counted_is_one_each_and_the_words_say_so():
    one = level("headboard: live; mattress: live+eggs, 40, eggs; sofa: eggs; lamp: live, 2")
    assert (one.bugs, one.level) == (5, "low")  # 2 counted, 2 items with live bugs not counted, 1 with eggs
    assert "2 live bugs counted" in told(one)
    assert "not counted at 2 items" in told(one)
    assert "viable eggs at 1 item" in told(one)
    assert "may be more" in told(one)


@pytest.mark.parametrize(("bugs", "side"), [(29, "it is fewer"), (30, "it is not fewer")])
def test_the_cut_of_a_trial_is_a_note(bugs, side):
    """Fewer than 30 bugs at the start are lightly infested: Singh et al. 2013, doi 10.3390/insects4040731."""
    assert told(level(f"headboard: live, {bugs}")).endswith(side + ".")


@pytest.mark.parametrize("sign", ["dead", "bites", "alert"])
def test_a_dead_bug_a_bite_or_an_alert_decides_nothing(sign):
    one = level(f"headboard: {sign}")
    assert (one.found, one.level) == ("unsure", "")


def test_nothing_seen_is_never_a_clearance():
    one = level("headboard: nothing; sofa: nothing")
    assert (one.found, one.level) == ("no", "")
    assert "does not clear" in told(one)
    assert propose_level(()).found == "no"


evidence = st.frozensets(st.sampled_from(EVIDENCE))
items = st.lists(
    st.builds(
        Finding,
        st.sampled_from(["headboard", "sofa", "interceptors"]),
        evidence,
        st.sampled_from(["", "eggs", "adults"]),
        st.none() | st.integers(1, 60),
    ),
    max_size=5,
)


@settings(max_examples=150, deadline=None)
@given(items, st.booleans(), st.integers(0, 60))
def test_every_finding_has_a_proposal_with_words(found, treated, caught):
    one = propose_level(found, treated_on=TREATED if treated else None, caught=caught)
    assert one.found in FOUND
    assert one.level in ("", *LEVELS)
    assert told(one).endswith(".")
    assert bool(one.level) == (one.found == "yes")
    untreated = propose_level(found, caught=caught)
    order = ["", *LEVELS]
    assert order.index(one.level) <= order.index(untreated.level), (
        "a treatment never makes signs count for more"
    )


def test_a_units_past_says_when_it_was_treated_and_what_was_caught():
    seen = read_items("headboard: stains")
    past = [row("101", 20, "treatment", "spray"), row("101", 3, "monitor", "interceptors", "yes", count=5)]
    assert propose_for(seen, [], ON).level == "trace"
    assert propose_for(seen, past[:1], ON).found == "unsure"
    assert propose_for(seen, past, ON).level == "low"
    assert propose_for(seen, past, ON, caught=0).found == "unsure"
    same_day = [row("101", 0, "treatment", "spray")]
    assert propose_for(seen, same_day, ON).level == "trace", "treated after the look, or that day"
    before = [row("101", 3, "monitor", "interceptors", "yes", count=5), row("101", 2, "treatment", "spray")]
    assert propose_for(seen, before, ON).found == "unsure", "caught before the treatment"


def test_items_that_the_sheet_does_not_have_are_named_once_with_the_nearest():
    sentences = [str(p) for p in strange_items(read_items("sofe: live; sofe: live; sofa: live"), ["sofa"])]
    assert sentences == [
        "new row, field 'items': the room sheet has no item 'sofe'; write 'sofa' if that is meant."
    ]


# The likelihood. Thorough look .37 .67 .91 .99; unsure .05 clear, .10 infested; false positive .005 for a
# bug seen, .01 for one caught, .10 for signs in a unit never treated, .35 after a treatment (the facts'
# specificities 0.995, 0.99, 0.90 and 0.50-0.80); signs alone .70 .50 .25 .10 of finds, a judgement.


def test_signs_only_in_a_unit_never_treated_by_hand():
    values = look_likelihood(look("headboard: stains"), treated_before=False)
    assert values == pytest.approx(
        [0.10 * 0.95, 0.37 * 0.9 * 0.70, 0.67 * 0.9 * 0.50, 0.91 * 0.9 * 0.25, 0.99 * 0.9 * 0.10]
    )
    # .0246 x .2331 + .0369 x .3015 + .0369 x .20475 + .0246 x .0891 = .0266067; clear .877 x .095 = .083315.
    assert infested(values) == pytest.approx(0.0266067 / (0.0266067 + 0.083315), abs=1e-5)
    assert infested(values) == pytest.approx(0.242, abs=5e-4)


def test_signs_only_in_a_unit_treated_before_by_hand():
    values = look_likelihood(look("headboard: stains"), treated_before=True)
    # Clear .877 x .35 x .95 = .2916025.
    assert infested(values) == pytest.approx(0.0266067 / (0.0266067 + 0.2916025), abs=1e-5)
    assert infested(values) == pytest.approx(0.0836, abs=5e-4)


def test_a_live_bug_by_hand():
    values = look_likelihood(look("headboard: live+stains"), treated_before=False)
    # .9 x (.0246 x .37 x .3 + .0369 x .67 x .5 + .0369 x .91 x .75 + .0246 x .99 x .9) = .0559755;
    # clear .877 x .005 x .95 = .0041658.
    assert infested(values) == pytest.approx(0.0559755 / (0.0559755 + 0.0041658), abs=1e-5)
    assert infested(values) == pytest.approx(0.931, abs=5e-4)
    np.testing.assert_array_equal(
        values, look_likelihood(look("headboard: live+stains"), treated_before=True)
    )


def test_a_bug_in_a_trap_is_a_catch_whoever_looked():
    """Specificity 0.99 for an identified catch against 0.995 for a bug seen."""
    trap = look_likelihood(look("interceptors: live"), treated_before=False)
    assert trap[0] == pytest.approx(0.01 * 0.95)
    both = look_likelihood(look("interceptors: live; headboard: live"), treated_before=False)
    assert both[0] == pytest.approx(0.005 * 0.95)
    np.testing.assert_array_equal(trap[1:], both[1:])


def test_signs_and_live_finds_share_out_the_finds():
    signs, live = (look_items.signs_factor(look(f"sofa: {word}")) for word in ("skins", "eggs"))
    np.testing.assert_allclose(signs[1:] + live[1:], 1.0)
    assert signs[0] == live[0] == 1.0, "a clear unit's false positives are told apart by their own chance"
    assert list(signs[1:]) == sorted(signs[1:], reverse=True)


def test_only_dead_bugs_say_little():
    """Only dead bugs in 2 and 9 % of inspected units: Vail and Chandler 2017, ICUP abstract 1471."""
    values = look_likelihood(look("interceptors: dead"), treated_before=False)
    assert values[0] == pytest.approx(0.05 * 0.95)
    assert infested(values) < infested(look_likelihood(look("interceptors: live"), treated_before=False))


@pytest.mark.parametrize("method", ["dog", "interview", "interceptors", "lure-trap"])
def test_signs_are_weighed_only_where_somebody_looked_item_by_item(method):
    assert np.all(look_items.signs_factor(look("sofa: skins", method=method)) == 1.0)


def test_a_clean_period_counts_for_the_traps_that_stood():
    """Displaced traps make an invalid period: common practice, no source."""
    stood, half, none = (
        look_likelihood(look(text, "no", "interceptors"), treated_before=False)
        for text in (
            "interceptors: nothing, intact; interceptors: nothing",
            "interceptors: nothing, intact; interceptors: nothing, displaced",
            "interceptors: nothing, missing; interceptors: nothing, displaced",
        )
    )
    plain = look_likelihood(look("", "no", "interceptors"), treated_before=False)
    np.testing.assert_array_equal(stood, plain)
    # Sensitivity .50 at a trace in 14 days; half of the traps: 1 - .5 ** .5 = .2929.
    assert half[1] == pytest.approx(0.5**0.5 * 0.9)
    np.testing.assert_allclose(none[1:], 0.9)
    assert infested(plain) < infested(half) < infested(none)


@settings(max_examples=80, deadline=None)
@given(
    st.sampled_from(LOOKS + MONITORS), st.sampled_from(FOUND), items.map(tuple), st.booleans(),
    st.sampled_from(("", *LEVELS)),
)  # fmt: skip
def test_every_look_with_items_has_a_positive_likelihood(method, found, seen, treated, grade):
    kind = "monitor" if method in MONITORS else "inspection"
    record = row("101", 0, kind, method, found, level=grade if found == "yes" else "", items=seen)
    values = look_likelihood(record, treated_before=treated)
    assert np.all(values > 0)
    assert np.all(values <= 1)


@settings(max_examples=60, deadline=None)
@given(st.sampled_from(LOOKS + MONITORS), st.sampled_from(FOUND), evidence, st.booleans())
def test_items_that_say_nothing_new_change_nothing(method, found, signs, treated):
    """A row without items, and one whose items say that the whole room was looked at."""
    kind = "monitor" if method in MONITORS else "inspection"
    plain = replace(row("101", 0, kind, method, found), evidence=signs if found == "yes" else frozenset())
    whole = ["mattress", "box-spring", "bed-frame", "headboard", "sofa", "nightstand", "baseboard", "dresser"]
    whole += ["closet", "outlets"]
    with_items = replace(plain, items=tuple(map(Finding, whole)))
    np.testing.assert_array_equal(
        look_likelihood(plain, treated_before=treated), look_likelihood(with_items, treated_before=treated)
    )


def test_the_share_of_finds_with_signs_alone_has_its_source():
    for one in detection.SIGNS_ONLY:
        assert "judgement" in one.source
        assert one.confidence == "C"
    mix = np.array([0.2, 0.3, 0.3, 0.2]) * detection.sensitivity("thorough-visual")[1:]
    pooled = float((mix * detection.signs_only_chance()).sum() / mix.sum())
    # Units with bugs of which only dead ones: 2 of 10 and 9 of 20 (D30: 2 and 9 % against 8 and 11 % live).
    assert 2 / 10 < pooled < 9 / 20

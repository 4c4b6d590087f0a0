"""Published programmes and trials beside the simulation: what is met, what is missed, and why.

Sources stand in :mod:`proofs.programmes_published`, and so do tolerances (those of the facts on spread, or
the 95 % range of a trial's count). Figures of this page: 100 runs (trials 300), seed 1, each run with its own
pace and joint draw. Most of them had a part in the joint fit (``docs/evidence.md``).

Met, with no factor set by hand: building-wide 9 to 3.7 % in a year (published 3); managed community -62 % in
two years (-49 and -64 %) with 9.0 % newly infested (7 and 3 %); usual service -8 % (-26 %) with 14 % newly
infested (11); six of nine trials.

Missed, and held to be missed by the tests, so that a change is noticed:

- Usual service takes 6 % to 8.7 % in a year, not to 12 (90 % of runs: 4.4 to 12.9). The usual service of
  another community fell by 26 % in two years, and one kernel has to do both: contractors differ.
- Thirteen fortnightly visits ended 3 of 9 infestations (Singh et al. 2013), 75 % here, though three units in
  ten resist. So long courses in stubborn units are too hopeful here, and the chance of nil with them.
- Of infestations of up to ten bugs, 96 % were gone after 22 weeks of traps alone (Cooper 2016), 82 % here:
  the simulated firm treats only when a look finds something, the traps of the trial worked on.
- Five visits ended 8 of 16 heavy infestations (Wang et al. 2009, from memory), 26 % here. It and the long
  courses pull one treatment apart; what trials differ in is not in the fit.
"""

import pytest

from proofs.programmes_filter import compare
from proofs.programmes_published import DATA, a_year, data_of, elimination, two_years
from spread.programmes.told import SIMULATED

pytestmark = pytest.mark.slow
MISSED_TRIALS = {"S13", "V15 <= 10 bugs", "W09 two arms"}


def test_a_year_of_usual_service_and_of_building_wide_work():
    """V4 and V5: Wang et al. 2019, doi 10.1093/jipm/pmz031."""
    usual, wide = a_year()
    assert not usual.met, "published 12 %; see above"
    assert 7.0 < usual.mean < usual.low < usual.band[1]
    assert usual.mean == pytest.approx(SIMULATED, abs=1.0), "what owners are told"
    assert wide.met, wide
    assert wide.mean < usual.mean - 3.0, "though it began higher"


def test_two_years_of_three_communities():
    """V6 and V7: Wang et al. 2018, doi 10.1002/ps.4830."""
    for figure in two_years():
        assert figure.met, figure


def test_elimination_in_the_trials():
    """Shares of treated units without a bug at the end of nine trials, V15 among them."""
    found = {seen.name: seen for seen in elimination()}
    assert {name for name, seen in found.items() if not seen.met} == MISSED_TRIALS
    assert found["S13"].mean > found["S13"].high, "long courses are too hopeful; see above"
    assert found["V15 <= 10 bugs"].mean > 0.8
    assert found["W12 non-chemical"].mean > found["W12 insecticide"].mean, "as published"


def test_owners_are_shown_what_the_proof_gives():
    assert DATA.read_text(encoding="utf-8") == data_of([*a_year(), *two_years(), *elimination()])


def test_what_the_fast_filter_gives_away():
    """Against the full sampler on simulated buildings of 80 units: a measurement, no outside source."""
    got = compare(buildings=12)
    assert got.finds_filter > got.finds_random
    assert got.finds_filter > 0.7 * got.finds_sampler
    assert got.rank_correlation > 0.6
    assert got.mean_gap < 0.08

"""Published programmes and trials beside the simulation: what is met, what is missed, and why.

Sources stand in :mod:`proofs.programmes_published`, and so do tolerances (those of the facts on spread, or
the 95 % range of a trial's count). Nothing was tuned to them. Figures of this page: 100 runs (trials 300),
seed 1.

Met, at a quarter of the default rates (the factor for managed buildings, ``rate_scale``): usual service 6
to 10 % in a year (published 12); building-wide 9 to 3.3 % (3); managed community -71 % in two years (-49
and -64 %) with 6.7 % newly infested (7 and 3 %); usual service 14.8 % newly infested (11).

Missed, and held to be missed by the tests, so that a change is noticed:

- At the default rates everything spreads too fast (22 % after a year where 12 was seen, 7.4 where 3 was).
  They come from one building of late, poor control, found out by snowball inspection (Wang et al. 2010).
  Published buildings differ tenfold in their rates; a building's own log moves them, and a building without
  a log should be given ``rate_scale = 0.25`` unless it is known to be let go.
- The usual-service community fell by 26 %; the simulated one rises by 44 %. Its units are found as seen,
  but spray alone ends a heavy infestation in 2 % of visits here (trials, not tuned), and residents' own
  efforts and moves are weak in the model. A contractor who does better than spray alone, or rates lower
  still, would meet it.
- Thirteen fortnightly visits ended 3 of 9 infestations (Singh et al. 2013), 82 % here. The chances of one
  visit come from trials of five visits and are taken as independent from visit to visit; units that failed
  once fail again more often than that. So long courses in stubborn units are too hopeful here, and the
  chance of nil with them.
- Of infestations of up to ten bugs, 96 % were gone after 22 weeks of traps alone (Cooper 2016), 85 % here:
  the simulated firm treats only when a look finds something, the traps of the trial worked on.
"""

import pytest

from proofs.programmes_filter import compare
from proofs.programmes_published import a_year, elimination, two_years
from spread.programmes.told import SIMULATED

pytestmark = pytest.mark.slow
MISSED_TRIALS = {"S13", "V15 <= 10 bugs"}


def test_a_year_of_usual_service_and_of_building_wide_work_in_a_managed_building():
    """V4 and V5: Wang et al. 2019, doi 10.1093/jipm/pmz031."""
    usual, wide = a_year(0.25)
    assert usual.met, usual
    assert wide.met, wide
    assert wide.band[1] < usual.band[0], "the bands lie apart, as the published figures do"
    assert usual.mean == pytest.approx(SIMULATED[0.25], abs=1.0), "what owners are told"


def test_the_default_rates_are_those_of_a_building_let_go():
    """V4 and V5 at the rates of Wang et al. 2010: too fast, and said to be."""
    usual, wide = a_year(1.0)
    assert not usual.met
    assert usual.mean > 15.0
    assert usual.mean == pytest.approx(SIMULATED[1.0], abs=1.5), "what owners are told"
    assert not wide.met
    assert 5.0 < wide.mean < 9.0, "it falls still, and not as far"


def test_two_years_of_three_communities():
    """V6 and V7: Wang et al. 2018, doi 10.1002/ps.4830."""
    managed_change, managed_new, usual_change, usual_new = two_years(0.25)
    assert managed_change.met, managed_change
    assert managed_new.met, managed_new
    assert usual_new.met, usual_new
    assert not usual_change.met, "the fall under usual service is missed; see above"
    assert usual_change.mean > 0.0


def test_elimination_in_the_trials():
    """Shares of treated units without a bug at the end of nine trials, V15 among them."""
    found = {seen.name: seen for seen in elimination()}
    assert {name for name, seen in found.items() if not seen.met} <= MISSED_TRIALS
    assert found["S13"].mean > found["S13"].high, "long courses are too hopeful; see above"
    assert found["V15 <= 10 bugs"].mean > 0.8
    assert found["W12 non-chemical"].mean > found["W12 insecticide"].mean, "as published"


def test_what_the_fast_filter_gives_away():
    """Against the full sampler on simulated buildings of 80 units: a measurement, no outside source."""
    got = compare(buildings=12)
    assert got.finds_filter > got.finds_random
    assert got.finds_filter > 0.7 * got.finds_sampler
    assert got.rank_correlation > 0.6
    assert got.mean_gap < 0.08

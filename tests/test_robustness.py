"""The robustness study: its mistakes are what they say, its scores are right, and mistakes move chances.

A tiny run, so only directions are tested; the figures stand in ``docs/robustness.md``.
"""

import datetime as dt
import sys
from pathlib import Path

import numpy as np
import pytest

ROOT = Path(__file__).parents[1]
sys.path.insert(0, str(ROOT))  # the study is not part of the installed package

from benchmarks import mistakes, robustness  # noqa: E402
from spread.posterior.dynamics import central_dynamics  # noqa: E402
from spread.posterior.fit import FitSettings  # noqa: E402
from spread.posterior.looks import look_likelihood  # noqa: E402
from spread.posterior.observations import build_evidence  # noqa: E402
from spread.records.kinds import Record  # noqa: E402
from spread.trade import detection  # noqa: E402

WEEKS = 40
QUICK = FitSettings(chains=2, warmup=40, sweeps=60, most_sweeps=60)
WANTED = (
    "everything right",
    "the same, other random numbers",
    "routes and mixing x 3, fixed",
    "routes and mixing / 3, fixed",
    "silence ignored",
)


@pytest.fixture(scope="module")
def house():
    return robustness.build_house(1, 5, WEEKS)


@pytest.fixture(scope="module")
def study():
    chosen = [mistake for mistake in mistakes.MISTAKES if mistake.name in WANTED]
    return robustness.run(2, seed=3, weeks=WEEKS, settings=QUICK, mistakes=chosen)


def expected(study, name):
    return np.mean([outcome.chance.sum() for outcome in study.outcomes[name]])


def test_faster_spread_believed_means_more_units_expected(study):
    slow, right, fast = (
        expected(study, name)
        for name in ("routes and mixing / 3, fixed", "everything right", "routes and mixing x 3, fixed")
    )
    assert slow < right < fast


def test_units_of_which_nothing_was_heard_look_worse_when_silence_is_ignored(study):
    assert expected(study, "silence ignored") > expected(study, "everything right")


def test_a_mistake_moves_chances_more_than_other_random_numbers_do(study):
    moved = {row.name: row.moved.value for row in study.rows}
    assert moved["everything right"] == 0.0
    noise = moved.pop("the same, other random numbers")
    assert 0.0 < noise < moved["routes and mixing x 3, fixed"]
    assert noise < moved["silence ignored"]


def test_the_tables_have_a_line_for_every_mistake_and_for_the_ring(study):
    text = robustness.tables(study)
    for name in WANTED:
        assert text.count(f"| {name} |") == 2
    assert "the usual ring" in text


def test_the_fit_is_told_nothing_of_the_last_week_that_the_truth_is_taken_from(house):
    assert max(record.when for record in house.records) < robustness.MORNING
    assert house.infested.shape == (60,)


def test_the_calibration_error_of_a_small_case_by_hand():
    """Two bins: (0.05 + 0.05 - 1) / 4 in size, and (0.92 + 0.98 - 2) / 4."""
    chance = np.array([0.05, 0.05, 0.92, 0.98])
    assert robustness.calibration_error(chance, np.array([True, False, True, True])) == pytest.approx(
        0.9 / 4 + 0.1 / 4
    )
    assert robustness.calibration_error(np.array([1.0, 0.0]), np.array([True, False])) == 0.0


def test_a_figure_is_the_mean_and_its_standard_error():
    """By hand: mean 2, sample deviation 1, over the root of 3."""
    figure = robustness.Figure.of([1, 2, 3])
    assert (figure.value, figure.error) == pytest.approx((2.0, 1 / np.sqrt(3)))


@pytest.mark.parametrize("by", [0.15, -0.15])
def test_sensitivities_are_wrong_only_inside_the_block(by):
    right = detection.sensitivity("brief-visual")
    with mistakes.sensitivities_shifted(by):
        wrong = detection.sensitivity("brief-visual")
    assert wrong[0] == 0.0, "nothing can be missed in a clear unit"
    np.testing.assert_allclose(wrong[1:], np.clip(right[1:] + by, 0.02, 0.99))
    np.testing.assert_array_equal(detection.sensitivity("brief-visual"), right)


def test_a_table_is_put_back_even_when_the_fit_fails():
    before = detection.sensitivity, detection.report_chance
    for block in (lambda: mistakes.sensitivities_shifted(0.1), mistakes.silence_ignored):
        with pytest.raises(ZeroDivisionError), block():
            _ = 1 / 0
    assert (detection.sensitivity, detection.report_chance) == before


def test_without_silence_only_reports_speak():
    day = dt.date(2026, 11, 16)
    log = [
        Record("r1", day - dt.timedelta(weeks=6), "1", "report"),
        Record("r2", day - dt.timedelta(weeks=2), "2", "inspection", "brief-visual", "no"),
    ]

    def likelihood():
        return build_evidence(log, ("1", "2", "3"), central_dynamics(), on=day, weeks=10).likelihood

    with mistakes.silence_ignored():
        deaf = likelihood()
    usual = likelihood()
    assert np.all(deaf[2] == 1.0)
    assert usual[2, -3, 4] < 1.0
    np.testing.assert_allclose(deaf[0, 3], usual[0, 3])  # the week of the report
    np.testing.assert_allclose(deaf[1, 7], look_likelihood(log[1], treated_before=False))
    np.testing.assert_array_equal(np.delete(deaf[1], 7, axis=0), 1.0)


def test_reporting_is_believed_other_only_for_units_with_bugs():
    right = detection.report_chance()
    with mistakes.reporting_times(2.0):
        wrong = detection.report_chance()
    np.testing.assert_allclose(wrong / right, [1, 2, 2, 2, 2])


def test_a_tenth_of_the_records_and_of_the_walls_goes_or_comes(house):
    rng = np.random.default_rng(1)
    left = mistakes.some_missing(house.records, rng)
    assert len(house.records) - len(left) == round(len(house.records) / 10)
    assert set(left) < set(house.records)
    walls = mistakes._walls(house.graph)
    fewer, more = mistakes.walls_deleted(house.graph, rng), mistakes.walls_added(house.graph, rng)
    tenth = round(len(walls) / 10)
    assert len(mistakes._walls(fewer)) == len(walls) - tenth
    assert len(mistakes._walls(more)) == len(walls) + tenth
    assert len(mistakes._walls(house.graph)) == len(walls), "the true building stays as it is"
    old = {frozenset(wall[:2]) for wall in walls}
    false = [wall for wall in mistakes._walls(more) if frozenset(wall[:2]) not in old]
    assert len(false) == tenth
    for a, b, _ in false:
        assert more.nodes[a]["floors"] == more.nodes[b]["floors"]


def test_wrong_rates_come_with_priors_that_are_wrong_alike():
    central = central_dynamics()
    shapes, rates = map(np.array, central.rate_priors)
    for wrong, factors in (
        (mistakes.spread_times(3.0), [1, 3, 3, 3, 3, 3, 3]),
        (mistakes.brought_in_times(3.0), [3, 1, 1, 1, 1, 1, 1]),
    ):
        now = np.concatenate([[wrong.brought_in, wrong.mixing], wrong.rates])
        was = np.concatenate([[central.brought_in, central.mixing], central.rates])
        np.testing.assert_allclose(now / was, factors)
        np.testing.assert_allclose(np.divide(*map(np.array, wrong.rate_priors)), shapes / rates * factors)


def test_the_document_is_filled_between_its_marks_and_nowhere_else(tmp_path):
    path = tmp_path / "page.md"
    path.write_text(f"# Before\n{robustness.START}old\n{robustness.END}\nAfter\n")
    robustness.put_into(path, "new")
    text = path.read_text()
    assert text.startswith("# Before\n")
    assert text.endswith("\nAfter\n")
    assert "new" in text
    assert "old" not in text

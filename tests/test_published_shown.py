"""Published programmes in a proposal: the figures of the proof, met or missed, and none that calms."""

from spread.programmes.published import published
from spread.words import Voice
from spread.words.published import LONG_COURSES, published_rows, trials_line

VOICE = Voice()


def test_the_rows_are_those_of_the_data_with_the_misses_among_them():
    by_name = {each.name: each for each in published()}
    rows = published_rows(published(), VOICE)
    usual = by_name["V4 usual service from 6 %"]
    assert rows[0][1:] == (
        usual.published,
        f"{usual.simulated:.0f}% ({usual.low:.0f} to {usual.high:.0f})",
        "inside" if usual.met else "outside",
    )
    trial = by_name[LONG_COURSES]
    assert rows[-1][1:3] == (
        trial.published.replace("/", " of "),
        f"{100 * trial.simulated:.0f}% ({100 * trial.low:.0f} to {100 * trial.high:.0f})",
    )
    assert {row[3] for row in rows} == {"inside", "outside"}, "what is missed is not left out"


def test_the_hopeful_side_is_said_because_the_trial_was_worse_than_the_simulation():
    """Should the numbers turn, the sentence has to go: it is words, not data."""
    trial = next(each for each in published() if each.name == LONG_COURSES)
    found, of = map(int, trial.published.split("/"))
    assert not trial.met
    assert trial.low > found / of
    trials = [each for each in published() if "/" in each.published]
    told = trials_line(published(), VOICE)
    assert f"Of {len(trials)} trials of treatment {sum(each.met for each in trials)} come out" in told
    assert "hopeful" in told

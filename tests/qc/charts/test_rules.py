import numpy as np
import pytest

from qc.charts import rules
from qc.charts.learned import learned
from qc.errors import QuestionError


def asked(means, **options):
    base = learned(
        means, np.full(len(means), 8), spread_in_block=2.0, spread_between_blocks=1.0,
        lag1=options.pop("lag1", 0.0), learn=options.pop("learn", None),
    )  # fmt: skip
    return {a.question: a for a in rules.answers(means, base, **options)}


def test_eight_in_a_row_on_one_side_signal_and_a_block_on_the_centre_ends_the_run():
    eight = rules.whole([1.0] * 8)
    assert list(rules.lasting_shift(eight, 0)) == [False] * 7 + [True]
    assert not rules.lasting_shift(rules.whole([1.0] * 4 + [0.0] + [1.0] * 4), 0).any()


def test_equal_totals_tie_whatever_order_they_were_added_in():
    one, other = 0.1 + 0.2 + 0.3, 0.3 + 0.2 + 0.1
    assert one != other  # in floats
    assert rules.whole([one]) == rules.whole([other])
    rising = [0.1, 0.2, 0.3, one, other, 0.7, 0.8]
    assert not rules.slow_walk(rules.whole(sorted(rising))).any()


@pytest.mark.parametrize("readings", [8 * 3 * 2, 8 * 3 * 4, 7 * 3 * 2, 12 * 2 * 3])
def test_means_of_whole_ticks_are_whole_for_every_usual_number_of_readings(readings):
    rng = np.random.default_rng(readings)
    totals = rng.integers(-10_000_000, 10_000_000, 200)
    exact = [int(t) * (rules.PARTS // readings) for t in totals]
    assert rules.PARTS % readings == 0
    assert list(rules.whole(totals / readings * 1e-5)) == exact


def test_six_in_a_row_rising_or_falling_signal_but_not_across_an_event():
    falling = rules.whole([6.0, 5.0, 4.0, 3.0, 2.0, 1.0])
    assert list(np.flatnonzero(rules.slow_walk(falling))) == [5]
    assert not rules.slow_walk(falling, [0, 0, 0, 1, 1, 1]).any()
    assert not rules.slow_walk(falling[:5]).any()


def test_the_walk_is_off_while_a_wear_slope_is_modelled():
    rising = np.arange(12.0)
    assert asked(rising)["slow_walk"].signals.any()
    off = asked(rising, wear_modelled=True)["slow_walk"]
    assert not off.signals.any()
    assert "wear slope" in off.off


def test_fifteen_in_a_row_close_to_the_centre_are_too_quiet():
    quiet = rules.whole([0.5, -0.5] * 7 + [0.5])
    assert list(np.flatnonzero(rules.too_quiet(quiet, 0, np.full(15, 1.0)))) == [14]
    quiet[7] = rules.whole([1.0])[0]  # exactly one spread off
    assert not rules.too_quiet(quiet, 0, np.full(15, 1.0)).any()


def test_run_lengths_are_those_of_feller():
    # First run of 8 of either face of a fair coin: 2^8 - 1 tosses; of r successes: (1 - p^r)/(q p^r).
    assert rules.false_alarms("lasting_shift", 50, 0.0)[0] == pytest.approx(255.0)
    p = 0.682689492137
    assert rules.false_alarms("too_quiet", 50, 0.0)[0] == pytest.approx(
        (1 - p**15) / ((1 - p) * p**15), rel=1e-6
    )


def test_the_walk_has_the_run_length_of_runs_in_random_permutations():
    # One direction alone: 1/sum(1/(6j)! - 1/(6j + 1)!) = 840 points (David and Barton, Combinatorial Chance,
    # 1962, ch. 10; from memory); both directions halve it but for what they share.
    counted = rules.false_alarms("slow_walk", 50, 0.0)[0]
    assert counted == pytest.approx(420.0, rel=0.12)


def test_learned_from_few_blocks_runs_come_more_often():
    known, here = rules.false_alarms("lasting_shift", 20, 0.0)
    assert here < known
    leaning = rules.false_alarms("lasting_shift", 20, 0.5)[0]
    assert leaning < 0.3 * known


def test_every_answer_names_its_rule_its_source_and_says_how_a_tie_counts():
    for answer in asked(np.random.default_rng(1).normal(size=20)).values():
        assert "(from memory)" in answer.source
        assert answer.tie
        assert "blocks" in answer.run_length
        assert answer.rule


def test_shifting_and_scaling_change_no_signal():
    x = np.cumsum(np.round(np.random.default_rng(2).normal(size=60), 2))
    plain = asked(x)
    for other in (asked(x + 50.0), asked(x * 25.4)):
        for question in ("lasting_shift", "slow_walk"):
            assert np.array_equal(other[question].signals, plain[question].signals)


def test_a_missing_block_breaks_no_run():
    x = np.array([6.0, 5.0, 4.0, np.nan, 3.0, 2.0, 1.0])
    assert list(np.flatnonzero(asked(x)["slow_walk"].signals)) == [6]


def test_values_that_cannot_be_told_apart_exactly_are_refused():
    with pytest.raises(QuestionError, match="code them by their target"):
        rules.whole([96_000.0])

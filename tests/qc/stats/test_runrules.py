import numpy as np
import pytest

from qc.errors import QuestionError
from qc.stats.runrules import RunRule, run_length


def test_points_beyond_three_spreads_alone_give_the_reciprocal_of_their_share():
    assert run_length([RunRule(1, 1, 3.0)]) == pytest.approx(370.398, abs=1e-3)  # NIST/SEMATECH 6.3.2


def test_nine_in_a_row_on_one_side_have_the_run_length_of_a_coin():
    # Feller, An Introduction to Probability Theory I, XIII.7: first run of 9 heads or 9 tails of a fair coin
    # takes 2^9 - 1 tosses.
    assert run_length([RunRule(9, 9, 0.0)]) == pytest.approx(511.0)


def test_two_rules_are_met_by_plain_counting():
    rng = np.random.default_rng(11)
    lengths = []
    for _ in range(1500):
        up, down, n = [], [], 0
        while True:
            x = rng.normal(0.5)
            n += 1
            up, down = [*up[-2:], x > 1.5], [*down[-2:], x < -1.5]
            if abs(x) > 3 or sum(up) >= 2 or sum(down) >= 2:
                break
        lengths.append(n)
    expected, error = np.mean(lengths), np.std(lengths) / np.sqrt(len(lengths))
    assert run_length([RunRule(1, 1, 3.0), RunRule(2, 3, 1.5)], 0.5) == pytest.approx(expected, abs=4 * error)


def test_a_rule_that_asks_for_more_hits_than_points_is_refused():
    with pytest.raises(QuestionError, match="hits"):
        run_length([RunRule(4, 3, 1.0)])
    with pytest.raises(QuestionError, match="hits"):
        run_length([])

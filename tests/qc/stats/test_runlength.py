import numpy as np
import pytest

from qc.errors import QuestionError
from qc.stats.runlength import (
    cusum_limit,
    cusum_run_length,
    ewma_run_length,
    ewma_width,
    simulated,
)


@pytest.mark.parametrize(
    ("h", "lengths"),
    [
        (4.0, (149.0, 62.7, 20.1, 8.97, 5.29, 2.86, 2.01)),
        (5.0, (430.0, 122.0, 28.7, 11.2, 6.35, 3.37, 2.36)),
    ],
)
def test_a_head_start_of_half_the_limit_has_the_run_lengths_of_lucas_and_crosier(h, lengths):
    # Lucas and Crosier (1982), Technometrics 24, Table: k = 0.5, head start h/2, both sides; from memory.
    for shift, expected in zip((0, 0.25, 0.5, 0.75, 1, 1.5, 2), lengths, strict=True):
        assert cusum_run_length(0.5, h, shift, head_start=h / 2) == pytest.approx(expected, rel=6e-3)


def test_an_average_that_weighs_the_newest_point_only_is_a_chart_of_single_points():
    # 2 * (1 - Phi(3)) = 0.0026998: 370.4 points (NIST/SEMATECH e-Handbook 6.3.2).
    assert ewma_run_length(1.0, 3.0) == pytest.approx(370.398, abs=1e-3)


def test_limits_that_grow_from_the_first_point_see_a_start_off_target_sooner():
    assert ewma_run_length(0.1, 2.814, 1.0, growing=True) < 0.85 * ewma_run_length(0.1, 2.814, 1.0)

    def advance(state, u):
        # exact limits by the textbook recursion of the variance, independent of the integral equation
        z, spread2 = (np.zeros(u.size), np.zeros(u.size)) if state is None else state
        z, spread2 = 0.8 * z + 0.2 * u, 0.64 * spread2 + 0.04
        return np.array([z, spread2]), np.abs(z) > 2.5 * np.sqrt(spread2)

    counted = simulated(advance, shift=0.5, charts=4000, seed=3)
    assert ewma_run_length(0.2, 2.5, 0.5, growing=True) == pytest.approx(
        counted.average, abs=4 * counted.standard_error
    )


def test_a_limit_asked_for_by_its_run_length_gives_that_run_length():
    assert cusum_run_length(0.5, cusum_limit(0.5, 465.44), 0.0) == pytest.approx(465.44)
    assert cusum_limit(0.5, 465.44) == pytest.approx(5.0, abs=1e-4)  # h = 5: 465, print of Lucas and Crosier
    assert ewma_width(0.1, 500.0) == pytest.approx(2.814, abs=1e-3)  # Lucas and Saccucci (1990), Table 3


def test_a_simulation_meets_the_exact_run_length_within_its_error():
    def advance(state, u):
        high = np.maximum(0, (0 if state is None else state) + u - 0.5)
        return high, high > 3.0

    counted = simulated(advance, charts=3000, seed=5)
    # Waldmann (1986): k = 0.5, h = 3 one-sided: 117.4 (117.596 by integral equation elsewhere)
    assert counted.average == pytest.approx(117.596, abs=3.5 * counted.standard_error)
    assert counted.cut == 0


def test_a_simulation_learns_from_few_points_as_student_did():
    def advance(state, u):
        return u, np.abs(u) > 3.0

    # With limits learned from 10 points the first new one lies beyond with P(|t9| > 3/sqrt(1.1)).
    from scipy.stats import t

    counted = simulated(advance, learned_from=10, charts=20_000, cut=1, seed=8)
    share = 2 * t.sf(3 / np.sqrt(1.1), 9)
    assert 1 - counted.cut == pytest.approx(share, abs=4 * np.sqrt(share / 20_000))


def test_questions_without_an_answer_are_refused():
    with pytest.raises(QuestionError, match="weight"):
        ewma_run_length(0.0, 3.0)
    with pytest.raises(QuestionError, match="head start"):
        cusum_run_length(0.5, 4.0, head_start=5.0)
    with pytest.raises(QuestionError, match="run length"):
        cusum_limit(0.5, 1.0)

import numpy as np
import pytest

from qc.errors import QuestionError
from qc.gauge.budget import Part, random_part, standard_uncertainty


def test_bore_and_journal_by_two_gauges_add_in_quadrature():
    # 2 um and 2 um make 2.8 um (trade brief).
    found = standard_uncertainty([Part("bore", 1, 2.0), Part("journal", -1, 2.0)])
    assert found.u == pytest.approx(2.828, abs=5e-4)


def test_two_walls_by_one_micrometer_count_its_common_part_twice():
    walls = [Part(f"wall {side}", -1, 1.0, common={"micrometer-1": 1.5}) for side in ("upper", "lower")]
    found = standard_uncertainty(walls)
    # 2 x 1.5 common, sqrt(2) x 1 random: sqrt(9 + 2).
    assert found.common == {"micrometer-1": 3.0}
    assert found.u == pytest.approx(np.sqrt(11.0))


def test_a_bore_gauge_zeroed_in_the_micrometer_of_the_journal_cancels_it():
    parts = [
        Part("bore", 1, 1.0, common={"micrometer-1": 1.5, "bore-gauge-2": 0.5}),
        Part("journal", -1, 0.8, common={"micrometer-1": 1.5}),
    ]
    found = standard_uncertainty(parts)
    assert found.common["micrometer-1"] == 0.0
    assert found.u == pytest.approx(np.sqrt(1.0 + 0.64 + 0.25))


def test_the_same_master_cancels_the_masters_part_only():
    parts = [
        Part("bore", 1, 0.0, common={"master-1": 0.8, "bore-gauge-2": 1.0}),
        Part("journal", -1, 0.0, common={"master-1": 0.8, "micrometer-1": 1.0}),
    ]
    assert standard_uncertainty(parts).u == pytest.approx(np.sqrt(2.0))


def test_averaging_readings_lowers_the_random_part_only():
    found = standard_uncertainty([Part("bore", 1, 2.0, readings=4, common={"master-1": 1.0})])
    assert found.random == {"bore": 1.0}
    assert found.u == pytest.approx(np.sqrt(2.0))


def test_the_rule_agrees_with_drawing_the_errors():
    rng = np.random.default_rng(11)
    micrometer, gauge = rng.normal(0, 1.5, 400_000), rng.normal(0, 0.7, 400_000)
    drawn = (gauge + rng.normal(0, 1.0, 400_000)) - 2 * micrometer - micrometer
    drawn -= rng.normal(0, 0.4, 400_000) + rng.normal(0, 0.4, 400_000) + rng.normal(0, 0.4, 400_000)
    parts = [Part("housing", 1, 1.0, common={"g": 0.7})]
    parts += [Part(name, -1, 0.4, common={"m": 1.5}) for name in ("upper", "lower", "journal")]
    assert standard_uncertainty(parts).u == pytest.approx(drawn.std(), rel=0.005)


def test_a_gauges_random_part_is_what_its_common_part_leaves():
    assert random_part(2.0, 1.2) == pytest.approx(1.6)
    assert random_part(2.0, None) == 2.0
    with pytest.raises(QuestionError, match="larger than its whole"):
        random_part(1.0, 2.0)


def test_an_empty_or_impossible_budget_is_refused():
    with pytest.raises(QuestionError, match="at least one part"):
        standard_uncertainty([])
    with pytest.raises(QuestionError, match="bore needs a reading"):
        standard_uncertainty([Part("bore", 1, 1.0, readings=0)])

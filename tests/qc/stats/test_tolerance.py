import pytest
from scipy import stats

from qc.errors import QuestionError, TooLittleData
from qc.stats.tolerance import one_sided_factor, two_sided_factor
from qc.stats.tolerance_grades import it_grade


@pytest.mark.parametrize("n", [2, 7, 30, 500])
def test_one_sided_factor_agrees_with_the_noncentral_t_of_the_reference_library(n):
    delta = stats.norm.ppf(0.95) * n**0.5
    assert one_sided_factor(n) == pytest.approx(stats.nct.ppf(0.95, n - 1, delta) / n**0.5, rel=1e-8)


def test_with_many_values_the_factor_is_the_normal_quantile():
    assert two_sided_factor(10**7) == pytest.approx(1.96, abs=2e-3)


def test_one_value_has_no_tolerance_interval():
    with pytest.raises(TooLittleData, match="wait for another block"):
        two_sided_factor(1)


@pytest.mark.parametrize(
    ("size", "grade", "words"), [(0, "IT6", "up to 500"), (501, "IT6", "up to 500"), (50, "IT99", "IT1 to")]
)
def test_sizes_and_grades_outside_the_table_are_refused(size, grade, words):
    with pytest.raises(QuestionError, match=words):
        it_grade(size, grade)

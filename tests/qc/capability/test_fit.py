import numpy as np
import pytest
from scipy import stats
from statsmodels.stats.diagnostic import lilliefors

from qc.capability.fit import fit_warning, gap_by_chance, largest_gap, nearest_other
from qc.capability.general import Limits
from qc.stats.families import FAMILIES, family


@pytest.mark.parametrize(("n", "printed"), [(10, 0.262), (20, 0.192), (30, 0.159), (50, 0.125)])
def test_gap_by_chance_agrees_with_the_tables_of_lilliefors(n, printed):
    # Corrected tables (Dallal and Wilkinson 1986; Molin and Abdi 1998), from memory.
    assert gap_by_chance(n) == pytest.approx(printed, abs=1.5e-3)


def test_largest_gap_agrees_with_the_reference_library():
    values = np.random.default_rng(3).gamma(4.0, size=70)
    assert largest_gap(values, family("normal")) == pytest.approx(lilliefors(values, "norm")[0], rel=1e-9)
    assert largest_gap(values, family("lognormal")) == pytest.approx(
        lilliefors(np.log(values), "norm")[0], rel=1e-9
    )


def test_warnings_come_as_often_as_stated_where_the_family_is_right():
    rng = np.random.default_rng(5)
    warned = np.mean(
        [fit_warning(rng.normal(size=60), family("normal"), 60.0) is not None for _ in range(2000)]
    )
    assert warned == pytest.approx(0.05, abs=0.016)


def test_a_half_normal_is_warned_of_as_normal_and_its_nearest_family_is_its_own():
    values = stats.halfnorm.rvs(size=400, random_state=np.random.default_rng(6))
    assert "do not look normal" in fit_warning(values, family("normal"), 400.0)
    assert fit_warning(values, family("folded_normal"), 400.0) is None
    assert nearest_other(values, Limits(None, 4.0), family("normal")).name == "folded_normal"


def test_few_independent_bores_tell_nothing_of_the_family():
    assert fit_warning(np.array([0.0] * 39 + [9.0]), FAMILIES["normal"], 5.0) is None

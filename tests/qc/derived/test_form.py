"""Expected values are by hand, or from sources named beside the check."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from qc.derived.form import barrel, noise_floor_out_of_round, out_of_round, taper, taper_range
from qc.errors import QuestionError, TooLittleData

# Depths down, directions across [um off target].
BORE = np.array([[[6.0, 2.0], [3.0, 1.0], [2.0, -3.0]]])


def lobes(order: int, amplitude: float, first_deg: float, directions: int) -> np.ndarray:
    """Diameter of r = R + a cos(n t): two radii half a turn apart, geometry."""
    t = np.deg2rad(first_deg + 180.0 * np.arange(directions) / directions)
    return (amplitude * (np.cos(order * t) + np.cos(order * (t + np.pi)))).reshape(1, 1, -1)


def test_out_of_round_is_that_of_the_worst_depth():
    assert out_of_round(BORE)[0] == 5.0


def test_a_pure_oval_shows_twice_its_radial_roundness():
    # Diametral: r from -5 to +5 is 10 um peak to valley on the radius, the diameters differ by 20.
    assert out_of_round(lobes(2, 5.0, 0.0, 2))[0] == pytest.approx(20.0)


def test_two_directions_read_a_four_lobed_bore_as_round():
    # Four head bolts: A/B readings 90 deg apart are blind to four lobes (geometry).
    assert out_of_round(lobes(4, 5.0, 0.0, 2))[0] == pytest.approx(0.0, abs=1e-9)
    assert out_of_round(lobes(4, 5.0, 0.0, 4))[0] == pytest.approx(20.0)


def test_three_lobes_are_never_seen_by_a_two_point_gauge():
    assert out_of_round(lobes(3, 5.0, 7.0, 8))[0] == pytest.approx(0.0, abs=1e-9)


def test_taper_is_signed_and_positive_when_the_top_is_larger():
    assert taper(BORE)[0] == pytest.approx(4.5)
    assert taper(BORE[:, ::-1, :])[0] == pytest.approx(-4.5)


def test_taper_as_a_range_takes_the_worst_direction_and_has_no_sign():
    assert taper_range(BORE)[0] == 5.0
    assert taper_range(BORE[:, ::-1, :])[0] == 5.0


def test_barrel_of_three_depths_is_middle_less_the_mean_of_the_ends():
    # (3 + 1)/2 - ((6 + 2)/2 + (2 - 3)/2)/2 = 2 - 1.75.
    assert barrel(BORE, [10.0, 60.0, 110.0])[0] == pytest.approx(0.25)


def test_barrel_of_more_depths_is_that_of_the_parabola_through_them():
    z = np.array([10.0, 25.0, 60.0, 90.0, 110.0])
    # A parabola that is 7 um larger half way (60 mm) than at its ends (10 and 110 mm), with taper added.
    profile = 7.0 * (1 - ((z - 60.0) / 50.0) ** 2) + 0.08 * (z - 60.0)
    assert barrel(profile.reshape(1, -1, 1), z)[0] == pytest.approx(7.0, abs=1e-9)


def test_a_waist_has_a_negative_barrel():
    assert barrel(np.array([[[4.0], [0.0], [4.0]]]), [10.0, 60.0, 110.0])[0] == -4.0


def test_barrel_takes_each_groups_own_depths():
    profile = np.array([[[0.0], [3.0], [3.0], [0.0]], [[0.0], [3.0], [3.0], [0.0]]])
    z = np.array([[0.0, 10.0, 20.0, 30.0], [0.0, 1.0, 29.0, 30.0]])
    both = barrel(profile, z)
    assert both[0] == pytest.approx(barrel(profile[:1], z[0])[0])
    assert both[1] == pytest.approx(barrel(profile[1:], z[1])[0])
    # numpy's own polynomial fit, scaled to the ends: the independent way.
    a = np.polyfit((z[1] - 15.0) / 15.0, profile[1, :, 0], 2)[0]
    assert both[1] == pytest.approx(-a)


@pytest.mark.parametrize("formula", [out_of_round, taper, taper_range])
def test_a_missing_position_leaves_no_form(formula):
    bore = BORE.copy()
    bore[0, 1, 1] = np.nan
    assert np.isnan(formula(bore)[0])


def test_a_missing_position_leaves_no_barrel():
    bore = BORE.copy()
    bore[0, 1, 1] = np.nan
    assert np.isnan(barrel(bore, [10.0, 60.0, 110.0])[0])


@given(st.lists(st.integers(-500, 500), min_size=12, max_size=12), st.integers(-1000, 1000))
def test_form_does_not_depend_on_size(readings, more):
    bore = np.array(readings, dtype=float).reshape(1, 4, 3)
    for formula in (out_of_round, taper, taper_range, lambda d: barrel(d, [10.0, 40.0, 70.0, 100.0])):
        assert formula(bore + more)[0] == pytest.approx(formula(bore)[0], abs=1e-9)


@pytest.mark.parametrize(
    ("directions", "d2"),
    # Published factors d2 for the range of n values: NIST/SEMATECH e-Handbook 6.3.2 table of constants,
    # AIAG SPC appendix; from memory.
    [(2, 1.128), (3, 1.693), (4, 2.059), (6, 2.534), (8, 2.847), (10, 3.078)],
)
def test_noise_alone_shows_as_out_of_round_by_the_published_factor(directions, d2):
    assert noise_floor_out_of_round(2.0, directions) == pytest.approx(2.0 * d2, abs=2 * 5e-4)


def test_noise_floor_of_the_worst_of_several_depths_matches_a_simulation():
    readings = np.random.default_rng(20261125).normal(size=(200_000, 3, 2))
    simulated = np.ptp(readings, axis=2).max(axis=1)
    assert noise_floor_out_of_round(1.0, 2, 3) == pytest.approx(
        simulated.mean(), abs=4 * simulated.std() / 447
    )


def test_too_few_places_are_refused_with_the_cure():
    with pytest.raises(TooLittleData, match="measure across it"):
        out_of_round(BORE[:, :, :1])
    with pytest.raises(TooLittleData, match="measure another depth"):
        taper(BORE[:, :1, :])
    with pytest.raises(TooLittleData, match="measure the middle"):
        barrel(BORE[:, :2, :], [10.0, 110.0])
    with pytest.raises(QuestionError, match="in order from the deck"):
        barrel(BORE, [110.0, 60.0, 10.0])
    with pytest.raises(QuestionError, match="bores, depths, directions"):
        taper(BORE[0])

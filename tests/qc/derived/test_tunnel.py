import json
from pathlib import Path

import numpy as np
import pytest
from scipy.optimize import linprog

from qc.derived.tunnel import adjacent, offset_from_indicator, offsets, overall, spatial
from qc.errors import QuestionError, TooLittleData

REFERENCE = Path(__file__).parents[2] / "reference"


def case(name: str) -> dict:
    return json.loads((REFERENCE / f"{name}.json").read_text(encoding="utf-8"))


def points(name: str) -> tuple[np.ndarray, np.ndarray]:
    """Positions [mm] and centres [um]: the cases give both in mm."""
    xy = np.array(case(name)["data"]["points"])
    return xy[:, 0], 1000.0 * xy[None, :, 1]


def test_three_lines_give_the_same_answer_on_a_bow():
    # straightness_bow_exact: derived analytically.
    z, centres = points("straightness_bow_exact")
    expected = case("straightness_bow_exact")["expected"]
    assert overall(offsets(centres, z))[0] == pytest.approx(1000 * expected["LS_range"], abs=1e-6)
    assert overall(offsets(centres, z, line="end_line"))[0] == pytest.approx(
        1000 * expected["end_point"], abs=1e-6
    )
    flat = np.zeros_like(centres)
    assert spatial(centres, flat, z)[0] == pytest.approx(1000 * expected["MZ"], rel=1e-7)


def test_three_lines_give_three_answers_on_a_cubic_tunnel():
    # straightness_cubic_scaled: derived analytically; nine housings over 400 mm.
    z, centres = points("straightness_cubic_scaled")
    expected = case("straightness_cubic_scaled")["expected"]
    assert overall(offsets(centres, z))[0] == pytest.approx(1000 * expected["LS_range"], abs=1e-6)
    by_ends = overall(offsets(centres, z, line="end_line"))[0]
    assert by_ends == pytest.approx(1000 * expected["end_point_line_range"], abs=1e-6)
    assert spatial(np.zeros_like(centres), centres, z)[0] == pytest.approx(1000 * expected["MZ"], rel=1e-7)


def test_minimum_zone_of_six_whole_number_points():
    # straightness_small_integer: the zone of the case is square to its line of slope 3/4, ours along the
    # offset, so it is longer by 1/cos = 5/4.
    xy = np.array(case("straightness_small_integer")["data"]["points"], dtype=float)
    expected = case("straightness_small_integer")["expected"]["MZ_perp"] * 1.25
    assert spatial(xy[None, :, 1], np.zeros((1, 6)), xy[:, 0])[0] == pytest.approx(expected, rel=1e-7)


def test_smallest_cylinder_of_a_helix_is_its_own_cylinder():
    # Two full turns at radius 8 um: no thinner cylinder holds 13 equally spaced points of it (symmetry).
    t = 2 * np.pi * np.arange(13) / 6
    z = np.arange(13.0)
    found = spatial(8 * np.cos(t)[None], 8 * np.sin(t)[None], z)[0]
    assert found <= 16.0 + 1e-9
    assert found == pytest.approx(16.0, rel=0.06)


def test_smallest_cylinder_agrees_with_a_linear_programme():
    # The circle as a polygon of 720 sides: least largest distance to its sides, exact to 1/cos(pi/720).
    rng = np.random.default_rng(5)
    z = np.array([0.0, 95.0, 190.0, 285.0, 380.0])
    t = 2 * np.pi * np.arange(720) / 720
    for _ in range(5):
        v, h = rng.normal(scale=8.0, size=(2, 5))
        c, s = (f(t)[:, None] * np.ones(5) for f in (np.cos, np.sin))
        sides = np.stack([-c, -c * z / 380, -s, -s * z / 380, -np.ones_like(c)], axis=2).reshape(-1, 5)
        limits = -(c * v + s * h).ravel()
        radius = linprog([0, 0, 0, 0, 1], A_ub=sides, b_ub=limits, bounds=[(None, None)] * 5).fun
        assert spatial(v[None], h[None], z)[0] == pytest.approx(2 * radius, rel=2e-5)


def test_offsets_do_not_change_when_the_whole_tunnel_is_moved_or_tilted():
    rng = np.random.default_rng(7)
    z = np.array([30.0, 120.0, 215.0, 310.0, 400.0])
    centres = rng.normal(scale=6.0, size=(3, 5, 2))
    moved = centres + 40.0 + 0.2 * z[None, :, None]
    for line in ("best_fit", "end_line"):
        assert offsets(moved, z, line=line) == pytest.approx(offsets(centres, z, line=line), abs=1e-9)


def test_best_fit_residuals_are_those_of_a_library_fit():
    z = np.array([30.0, 120.0, 215.0, 310.0, 400.0])
    centres = np.array([4.0, -3.0, 8.0, 1.0, -6.0])
    expected = centres - np.polyval(np.polyfit(z, centres, 1), z)
    assert offsets(centres[None], z)[0] == pytest.approx(expected, abs=1e-9)


def test_adjacent_is_the_step_between_neighbouring_housings():
    assert list(adjacent([[1.0, -2.0, 4.0]])[0]) == [3.0, 6.0]


def test_a_missing_housing_leaves_its_plane_without_offsets():
    centres = np.zeros((2, 4, 2))
    centres[0, 1, 0] = np.nan
    found = offsets(centres, [0.0, 1.0, 2.0, 3.0])
    assert np.isnan(found[0, :, 0]).all()
    assert not np.isnan(found[0, :, 1]).any()
    assert not np.isnan(found[1]).any()


def test_fewer_than_four_housings_get_no_zone():
    assert np.isnan(spatial(np.zeros((1, 3)), np.zeros((1, 3)), [0.0, 1.0, 2.0])[0])


def test_centres_on_one_line_have_no_misalignment():
    z = np.array([0.0, 100.0, 200.0, 300.0])
    line = (5.0 + 0.01 * z)[None]
    assert spatial(line, -line, z)[0] == pytest.approx(0.0, abs=1e-9)


def test_an_indicator_on_a_turning_mandrel_reads_twice_the_offset():
    assert list(offset_from_indicator([10.0, -4.0])) == [5.0, -2.0]


def test_what_cannot_be_fitted_is_refused_with_the_reason():
    with pytest.raises(TooLittleData, match="3 housings"):
        offsets([[1.0, 2.0]], [0.0, 100.0])
    with pytest.raises(QuestionError, match="same axial position"):
        offsets([[1.0, 2.0, 3.0]], [0.0, 100.0, 100.0])
    with pytest.raises(QuestionError, match="one axial position"):
        offsets([[1.0, 2.0, 3.0]], [0.0, 100.0])

"""A block taken apart. Expected by exact arithmetic: sizes made of level, bore, place and nothing else."""

import numpy as np
import pytest

from qc.ingest.plausible.fit import aims, fitted, middle, spread_of, steps
from qc.ingest.plausible.meant import Figure, meanings

NAN = float("nan")
BORES = {"cyl-1": 30.0, "cyl-2": 0.0, "cyl-3": -20.0}
PLACES = {15.0: 7.0, 65.0: 0.0, 115.0: -7.0}


def _block(slip=0.0):
    keys = [(f, s) for f in BORES for s in PLACES]
    off = np.array([100 + BORES[f] + PLACES[s] for f, s in keys])
    off[4] += slip
    station = np.array([s for _, s in keys])
    return fitted(True, [f for f, _ in keys], station, station * NAN, off + 9000, off, 1.0)


def test_level_bores_and_places_of_a_block_are_found_exactly():
    fit = _block()
    assert fit.level == 100
    assert fit.bores == BORES
    assert fit.pattern == {(s, -1.0): off for s, off in PLACES.items()}
    assert np.all(fit.left == 0)


def test_a_slip_bends_nothing_but_its_own_residual():
    fit = _block(500.0)
    assert fit.level == 100
    assert fit.bores == BORES
    assert fit.left.tolist() == [0, 0, 0, 0, 500, 0, 0, 0, 0]


@pytest.mark.parametrize("values", [[3.0], [1.0, 2.0], [5.0, 1.0, 4.0], [2.0, 8.0, 3.0, 1.0]])
def test_the_middle_is_the_median(values):
    assert middle(np.array(values)) == np.median(values)


def test_the_spread_of_normal_values_is_their_standard_deviation():
    # median absolute deviation of a normal distribution: 0.6745 sd (NIST/SEMATECH 7.1.6)
    values = np.array([-0.6745, 0.6745] * 5000)
    assert spread_of(values) == pytest.approx(1.0, rel=2e-4)


def test_the_gauges_step_is_the_last_digit_that_a_fifth_of_the_texts_has():
    # 1 um = 100000 ticks; dropped noughts make no coarser gauge
    assert steps(["96.01", "96.012", "96.011", "96", "96.009"], ["mm"] * 5) == 100_000
    assert steps(["3", "-2", "0"], ["tenth"] * 3) == 254_000
    assert np.isnan(steps(["x"], ["mm"]))


def test_a_bore_that_is_yet_to_be_made_is_not_held_against_its_target():
    target = np.array([96.0, 96.0])
    assert aims("bore_diameter", "hone", target)
    assert not aims("bore_diameter", "receive", target)
    assert aims("piston_diameter", "receive", target)
    assert not aims("bore_diameter", "hone", np.array([96.0, NAN]))
    assert not aims("ra", "hone", target)


MM = 100_000_000


def _meant(text, wanted_mm, *, unit="mm", size_mm=None, target_mm=96.0, key="bore_diameter"):
    size = float(text.replace(",", ".")) if size_mm is None else size_mm
    figure = Figure(text, unit, key, size * MM, target_mm * MM, wanted_mm * MM)
    found = meanings(figure, 0.008 * MM)
    return (found[0][1].code, found[0][1].text) if found else None


@pytest.mark.parametrize(
    ("text", "wanted", "code", "meant"),
    [
        ("96.03", 96.003, "decimal_slip", "96.003"), ("960.03", 96.003, "decimal_slip", "96.003"),
        ("96003", 96.003, "decimal_slip", "96.003"), ("96.300", 96.003, "digits_exchanged", "96.003"),
        ("69.003", 96.003, "digits_exchanged", "96.003"), ("48.0015", 96.003, "half_or_double", "96.003"),
        ("96.503", 96.003, "dial_revolution", "96.003"), ("3", 96.003, "forms_mixed", "96.003"),
        ("0", 96.003, "nought", ""), ("3.7796", 96.002, "unit_slip", "96.00184"),
    ],
)  # fmt: skip
def test_each_slip_of_a_size_is_turned_back(text, wanted, code, meant):
    assert _meant(text, wanted) == (code, meant)


@pytest.mark.parametrize(
    ("text", "unit", "size", "wanted", "code", "meant"),
    [
        ("-12", "um", 95.988, 96.012, "sign_reversed", "12"),
        ("96.012", "um", 96.096012, 96.012, "forms_mixed", "12"),
        ("5", "um", 96.005, 96.127, "deviation_unit", "127"),
    ],
)  # fmt: skip
def test_each_slip_of_a_distance_is_turned_back(text, unit, size, wanted, code, meant):
    assert _meant(text, wanted, unit=unit, size_mm=size) == (code, meant)


def test_nothing_is_proposed_where_no_slip_fits():
    assert _meant("96.127", 96.003) is None

"""Triples of the retrieved cases about surface profiles."""

import math

import numpy as np
from scipy.special import ndtri

from qc.derived import material_ratio, profile_filter, texture_acceptance, texture_heights, texture_profile
from tests.generate import traces


def _middles(points):
    return (np.arange(points) + 0.5) / points


_SHAPES = {
    "sine": lambda u: np.sin(2 * np.pi * u),
    "triangle": lambda u: 4 * np.abs(u - np.round(u)) - 1,
    "square": lambda u: np.where(u < 0.5, 1.0, -1.0),
    "sawtooth": lambda u: 2 * u - 1,
    "pulse_d0.2": lambda u: np.where(u < 0.2, 1.0, 0.0),
    "pulse_d0.8": lambda u: np.where(u < 0.8, 1.0, 0.0),
    "parabola_arcs": lambda u: 1 - (2 * u - 1) ** 2,
}


def _roughness(shape):
    z = _SHAPES[shape](_middles(4000))
    return z - z.mean()


def mean_heights(case):
    for shape, expected in case["expected"].items():
        z = _roughness(shape)
        yield f"{shape} Ra", texture_heights.ra(z), expected["Ra"]
        yield f"{shape} Rq", texture_heights.rq(z), expected["Rq"]


def peak_heights(case):
    for shape, expected in case["expected"].items():
        periods = np.tile(_roughness(shape), 5)
        yield f"{shape} Rz", texture_heights.rz(periods), expected["Rz"]
        yield f"{shape} Rt", texture_heights.rt(periods), expected["Rz"]


def core_of_curves(case):
    m = _middles(200_000)
    knots = case["data"]["piecewise"]
    curves = {
        "gaussian": ndtri(1 - m),
        "linear": 1 - 2 * m,
        "piecewise": np.interp(100 * m, knots["M_percent"], knots["z"]),
    }
    for name, expected in case["expected"].items():
        core = material_ratio.core(np.random.default_rng(1).permutation(curves[name]))
        for key, value in expected.items():
            yield f"{name} {key}", getattr(core, key.lower()), value


def transmission(case):
    ratio = np.array(case["data"]["lambda_over_lambda_c"])
    passed = profile_filter.transmission(ratio * 800, 800)
    expected = case["expected"]["longwave_a1_over_a0"]
    yield from zip((f"formula at {r}" for r in ratio), passed, expected, strict=True)


def transmission_of_sines(case):
    """What the filter really leaves of sines, in the middle of a long profile."""
    ratios = case["data"]["lambda_over_lambda_c"]
    for ratio, expected in zip(ratios, case["expected"]["longwave_a1_over_a0"], strict=True):
        wavelength = ratio * 800.0
        x = (np.arange(24_001) - 12_000) * 0.5
        line = profile_filter.gaussian(np.cos(2 * np.pi * x / wavelength), 0.5, 800.0)
        yield f"cosine at {ratio}", float(line[12_000]), expected


def steps(case):
    for number, one in enumerate(case["cases"], start=1):
        said = texture_acceptance.sixteen_percent(**one["inputs"])
        yield f"{number} measured", said.measured, one["expected"]["measured"]
        yield f"{number} beyond", said.beyond, one["expected"]["beyond"]
        yield f"{number} {one['expected']['verdict']}", float(said.verdict == one["expected"]["verdict"]), 1.0
        mirrored = [-v for v in one["inputs"]["values"]]
        below = texture_acceptance.sixteen_percent(mirrored, -1.0, side="lower")
        yield f"{number} lower limit", below.beyond, one["expected"]["beyond"]


def figures_of_a_profile(case):
    """The piecewise curve of the case drawn as a profile of 4.8 mm on a tilt: nothing of it may change."""
    knots = case["data"]["piecewise"]
    z, share = knots["z"], [m / 100 for m in knots["M_percent"]]
    curve = traces.Curve(*(float(v) for v in z), share[1], share[2])
    u = np.modf(np.arange(9600) * traces.SPACING / traces.PERIOD + 0.37)[0]
    profile = np.interp(1 - np.abs(2 * u - 1), share, z) + 1e-3 * np.arange(9600)
    mean = -0.05  # of the curve: 0.2 + 0 - 0.25
    ra = traces.Curve.figures(curve)["ra"]
    assert math.isclose(sum(s * (a + b) / 2 for s, a, b in curve.pieces), mean, abs_tol=1e-12)
    for core_filter in ("iso13565-1", "iso16610-31"):
        found = texture_profile.figures(profile, traces.SPACING, traces.CUTOFF, 0.0, core_filter)
        for key, value in case["expected"]["piecewise"].items():
            yield f"{core_filter} {key}", getattr(found, key.lower()), value
        yield f"{core_filter} Ra", found.ra, ra
        yield f"{core_filter} Rt", found.rt, 7.0

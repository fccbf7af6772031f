"""A measured profile to its texture figures: form off, filters, the evaluation length, every figure."""

from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
from numpy.typing import ArrayLike

from qc.derived import material_ratio, profile_filter, texture, texture_heights
from qc.derived.profile_filter import Array
from qc.errors import TooLittleData

CoreFilter = Literal["iso13565-1", "iso16610-31"]
LENGTHS: Final = 5  # sampling lengths of an evaluation
# points at least in a short cut-off: ISO 3274 pairs 2.5 um with 0.5 um, 8 um with 1.5 um (from memory)
PER_SHORT: Final = 5.0
PER_CUTOFF: Final = 100  # points at least in a cut-off: fewer and the heights of the peaks are missed
_REST: Final = 3.0  # cut-offs beside the evaluation length that can matter to any of the filters
# short cut-off [um] that goes with a cut-off [um] (ISO 3274:1996, table 1, from memory)
SHORT: Final = {80.0: 2.5, 250.0: 2.5, 800.0: 2.5, 2500.0: 8.0, 8000.0: 25.0}


@dataclass(frozen=True, slots=True)
class Texture:
    """Figures of one profile [um, mr1 and mr2 in %] and how many points they rest on."""

    ra: float
    rq: float
    rz: float
    rt: float
    rk: float
    rpk: float
    rvk: float
    mr1: float
    mr2: float
    vo: float
    points: int
    method: str
    source: str = "ISO 21920-2:2021 / ISO 4287:1997, ISO 13565-2:1996"


def figures(
    z: ArrayLike, spacing: float, cutoff: float, short: float = 0.0, core_filter: CoreFilter = "iso13565-1"
) -> Texture:
    """Texture figures of a profile.

    The least-squares line is taken off, waves under the short cut-off are smoothed away, and the middle five
    sampling lengths are judged; at least half a cut-off is left off at either end, where filters are not
    true (ISO 16610-21, ISO 4288; from memory). Ra, Rq, Rz, Rt by the Gaussian filter, the core by
    `core_filter`.

    Parameters
    ----------
    z : array [um], shape (points,)
    spacing, cutoff, short : float [um]
        short: short cut-off, 0 for none.
    core_filter : iso13565-1 (two stages) or iso16610-31 (robust)

    Raises
    ------
    TooLittleData
        A profile too short for its cut-off, or points too far apart; the sentence tells how long.
    """
    heights = np.asarray(z, dtype=float)
    _refuse_coarse(spacing, cutoff, short)
    judged = _evaluation(heights.size, spacing, cutoff)
    rest = round(_REST * cutoff / spacing)
    kept = slice(max(judged.start - rest, 0), min(judged.stop + rest, heights.size))
    judged = slice(judged.start - kept.start, judged.stop - kept.start)
    primary = profile_filter.line_removed(heights)[kept]
    if short > 0:
        primary = profile_filter.gaussian(primary, spacing, short)
    plain = (primary - profile_filter.gaussian(primary, spacing, cutoff))[judged]
    core = material_ratio.core((primary - _reference(primary, spacing, cutoff, core_filter))[judged])
    return Texture(
        ra=texture_heights.ra(plain), rq=texture_heights.rq(plain), rz=texture_heights.rz(plain, LENGTHS),
        rt=texture_heights.rt(plain), rk=core.rk, rpk=core.rpk, rvk=core.rvk, mr1=core.mr1, mr2=core.mr2,
        vo=float(texture.vo(core.rvk, core.mr2)), points=plain.size, method=core_filter,
    )  # fmt: skip


def _reference(primary: Array, spacing: float, cutoff: float, core_filter: CoreFilter) -> Array:
    if core_filter == "iso16610-31":
        return profile_filter.robust_gaussian(primary, spacing, cutoff)
    return profile_filter.two_stage(primary, spacing, cutoff)


def _refuse_coarse(spacing: float, cutoff: float, short: float) -> None:
    if spacing * PER_CUTOFF > cutoff:
        raise TooLittleData(
            f"its points lie {spacing:g} um apart, too far for a cut-off of {cutoff / 1000:g} mm: measure "
            f"with {cutoff / PER_CUTOFF:g} um or closer"
        )
    if short > 0 and spacing * PER_SHORT > short * (1 + 1e-6):
        raise TooLittleData(
            f"its points lie {spacing:g} um apart, too far for a short cut-off of {short:g} um: measure with "
            f"{short / PER_SHORT:g} um or closer, or say another short cut-off (0 for none)"
        )


def _evaluation(points: int, spacing: float, cutoff: float) -> slice:
    """The middle five sampling lengths."""
    wanted = round(LENGTHS * cutoff / spacing)
    left = (points - wanted) // 2
    if left < int(cutoff / 2 / spacing) - 1:  # a trace of n steps may have n points or n + 1
        raise TooLittleData(
            f"it is {points * spacing / 1000:.3g} mm long; a cut-off of {cutoff / 1000:g} mm needs "
            f"{(LENGTHS + 1) * cutoff / 1000:g} mm (5 sampling lengths and half a cut-off at either end): "
            "measure a longer trace, or say the cut-off that was meant"
        )
    return slice(left, left + wanted)

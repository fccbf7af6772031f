"""What a reader of profile traces hands on: heights at equal steps in um, within bounds that all keep.

Bounds: MOST_BYTES of SDF or text, MOST_POINTS a profile, MOST_PROFILES profiles and MOST_TOGETHER points a
file, counts looked at before anything is made from them; steps and heights that no surface of an engine part
has are refused as a unit slip.
"""

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from qc import units
from qc.errors import FileError, UnitError

if TYPE_CHECKING:
    from numpy import float64
    from numpy.typing import NDArray

MOST_BYTES: Final = 40_000_000
MOST_POINTS: Final = 500_000
MOST_PROFILES: Final = 20
MOST_TOGETHER: Final = 2_000_000
UM_PER_M: Final = 1000.0 / units.per_um("mm")
_SPACINGS: Final = (0.001, 1000.0)  # um
_HEIGHTS: Final = (0.005, 2000.0)  # um from the lowest to the highest point
_UNEVEN: Final = 0.1  # of a step that points may stand beside their even places
_MOST_INVALID: Final = 0.01  # of all points
_WIDEST_GAP_UM: Final = 10.0


@dataclass(frozen=True, slots=True)
class Profile:
    """One profile as a file tells it.

    heights : um, NaN where nothing was measured; spacing : um
    at : when it was measured as the file says, an ISO text, blank where it does not
    """

    spacing: float
    heights: "NDArray[float64]"
    at: str = ""


@dataclass(frozen=True, slots=True)
class Whole:
    """A profile without gaps: `bridged` points put in by a straight line, `cut` ones taken off its ends."""

    spacing: float
    heights: "NDArray[float64]"
    bridged: int
    cut: int


def um_per(unit: str) -> float:
    """Length of a unit [um]; besides those of the files also m and nm, in which instruments write.

    Raises
    ------
    UnitError
        When it is none, or no length.
    """
    text = unit.strip()
    if text in ("m", "nm"):
        return UM_PER_M if text == "m" else 0.001
    key = units.unit(text)
    if units.kind(key) != "length":
        raise UnitError(f"the unit {text!r} is no length: write one of um, mm, m, nm, in, uin")
    return 1.0 / units.per_um(key)


def bounded(data: bytes) -> None:
    """Refuse a file longer than any trace is.

    Raises
    ------
    FileError
    """
    if len(data) > MOST_BYTES:
        raise FileError(f"a trace of {len(data) // 1_000_000} MB; at most {MOST_BYTES // 1_000_000} are read")


def counted(points: int, profiles: int) -> None:
    """Refuse numbers of points and profiles that no trace has, before anything is made from them.

    Raises
    ------
    FileError
    """
    if points < 1 or profiles < 1:
        raise FileError(f"it says it has {points} points in {profiles} profiles: export it again")
    if profiles > MOST_PROFILES:
        raise FileError(
            f"it holds {profiles} profiles, an area: at most {MOST_PROFILES} profiles are read; export the "
            "profiles that are to be judged"
        )
    if points > MOST_POINTS or points * profiles > MOST_TOGETHER:
        raise FileError(
            f"it has {points} points in {profiles} profiles; at most {MOST_POINTS} points a profile and "
            f"{MOST_TOGETHER} together are read: export a shorter trace"
        )


def even_spacing(x: "NDArray[float64]") -> float:
    """Step between equally spaced places [their unit].

    Raises
    ------
    FileError
        When there are under two, they do not rise, or do not stand evenly.
    """
    import numpy as np

    if x.size < 2 or not (np.abs(x) < 1e15).all():
        raise FileError("a trace needs at least two points, each with its place: export it again")
    step = float(x[-1] - x[0]) / (x.size - 1)
    away = np.abs(x - (x[0] + step * np.arange(x.size)))
    if step <= 0 or float(away.max()) > _UNEVEN * step:
        raise FileError(
            "its places do not rise in equal steps, as filters need them: export it with equal steps"
        )
    return step


def whole(profile: Profile, name: str) -> Whole:
    """A profile whose gaps are bridged, where they are few and narrow.

    Ends where nothing was measured are taken off; inside, at most 1 % of the points and 10 um on end are
    put in by a straight line.

    Parameters
    ----------
    name : str
        What the profile is called in a refusal.

    Raises
    ------
    FileError
        Wider gaps, or steps or heights that no surface has.
    """
    import numpy as np

    _refuse_spacing(profile.spacing, name)
    there = np.flatnonzero(np.isfinite(profile.heights))
    if there.size < 2:
        raise FileError(f"{name} holds no measured heights: measure again")
    heights = profile.heights[there[0] : there[-1] + 1]
    valid = np.isfinite(heights)
    missing = int(heights.size - valid.sum())
    places = np.flatnonzero(valid)
    widest = int(np.diff(places).max()) - 1
    if missing > _MOST_INVALID * heights.size or widest * profile.spacing > _WIDEST_GAP_UM:
        raise FileError(
            f"in {name} {missing} of {heights.size} points were not measured, up to {widest} on end; at most "
            f"1 % and {_WIDEST_GAP_UM:g} um on end are bridged: clean the surface and measure again"
        )
    if missing:
        heights = np.interp(np.arange(heights.size), places, heights[places])
    _refuse_heights(float(np.ptp(heights)), name)
    return Whole(profile.spacing, heights, missing, int(profile.heights.size - heights.size))


def _refuse_spacing(spacing: float, name: str) -> None:
    if not _SPACINGS[0] <= spacing <= _SPACINGS[1]:
        raise FileError(
            f"the points of {name} would lie {spacing:g} um apart, which no trace has: say the right unit in "
            "the layout or export it again (SDF and x3p are in metres)"
        )


def _refuse_heights(span: float, name: str) -> None:
    if span == 0:
        raise FileError(f"all heights of {name} are the same: nothing was measured; measure again")
    if not _HEIGHTS[0] <= span <= _HEIGHTS[1]:
        raise FileError(
            f"the heights of {name} would span {span:g} um, which no finished surface does: say the right "
            "unit in the layout or export it again (SDF and x3p are in metres)"
        )

"""Profiles of a trace to rows of a readings file: a reading for each figure that its layout asks for."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from qc.derived import texture_profile
from qc.derived.texture_profile import CoreFilter, Texture
from qc.errors import FileError, TooLittleData
from qc.ingest import beside, trace_words
from qc.ingest.cellwise import Place, row_of
from qc.ingest.layout import Layout
from qc.ingest.layout_trace import TraceLayout
from qc.ingest.line import Shop
from qc.ingest.rows import Row
from qc.ingest.trace import Profile, Whole, whole
from qc.records import Cell, Finding

_PLAIN: Final = ("ra", "rz")
_PERCENT: Final = ("mr1", "mr2")
_NAMES: Final[Mapping[str, str]] = {
    "iso13565-1": "two-stage filter ISO 13565-1", "iso16610-31": "robust Gaussian filter ISO 16610-31",
}  # fmt: skip
# from polished to rough bored, and beyond (common practice, no source): a unit slip moves it by 1000
_RA_UM: Final = (0.003, 25.0)
_USUAL_MM: Final = 0.8  # the cut-off that a core's method does not name


@dataclass(frozen=True, slots=True)
class Judged:
    """How a trace is judged: cut-off [mm], short cut-off [um, 0 for none], filter of the core."""

    cutoff_mm: float
    short_um: float
    core_filter: CoreFilter

    def method(self, key: str) -> str:
        """Method of a figure: its filter, with the cut-offs where they are not the usual ones."""
        usual = self.short_um == texture_profile.SHORT[round(self.cutoff_mm * 1000.0)]
        short = "" if usual else f"-s{self.short_um:g}"
        if key in _PLAIN:
            return f"gauss-{self.cutoff_mm:g}{short}"
        own = "" if self.cutoff_mm == _USUAL_MM and usual else f"-{self.cutoff_mm:g}"
        return f"{self.core_filter}{own}{short}"

    def filter_name(self, key: str) -> str:
        """Filter of a figure in words."""
        return "Gaussian filter ISO 16610-21" if key in _PLAIN else _NAMES[self.core_filter]


def judged(layout: TraceLayout) -> Judged:
    """How a layout judges its traces; the short cut-off is the one that goes with the cut-off by ISO 3274."""
    assert layout.cutoff_mm is not None
    usual = texture_profile.SHORT[round(layout.cutoff_mm * 1000.0)]
    short = usual if layout.short_cutoff_um is None else layout.short_cutoff_um
    return Judged(layout.cutoff_mm, short, layout.rk_filter)


def rows(
    profiles: Sequence[Profile], layout: TraceLayout, by: Layout, name: str, shop: Shop, sha256: str
) -> tuple[list[Row], list[Finding]]:
    """Readings of every profile, and what there is to say of the trace.

    A file of which one profile cannot be judged is not read at all.

    Raises
    ------
    FileError
        Wide gaps, too short, too coarse, or a unit slip.
    """
    how = judged(layout)
    found: list[Row] = []
    said: list[Finding] = []
    told = layout.told(name)
    if len(profiles) > 1 and told.get("trial"):
        raise FileError(
            f"it holds {len(profiles)} profiles, which count as trials, and the layout says a trial of its "
            "own: take trial out of the layout"
        )
    for number, profile in enumerate(profiles, start=1):
        this = "the trace" if len(profiles) == 1 else f"profile {number} of {len(profiles)}"
        one = whole(profile, this)
        texture = _texture(one, how, this)
        said += trace_words.of_profile(number, profile, one, this)
        texts = {"reading": "size", **told}
        if profile.at and not texts.get("measured_at"):
            texts["measured_at"] = profile.at
        if len(profiles) > 1:
            texts["trial"] = str(number)
        found += [_row(key, texture, one, how, layout, texts, shop, sha256, number) for key in layout.figures]
    said.append(beside.read_with(by, "The trace", Cell(1, "z", "")))
    return found, said


def _texture(one: Whole, how: Judged, this: str) -> Texture:
    try:
        found = texture_profile.figures(
            one.heights, one.spacing, how.cutoff_mm * 1000.0, how.short_um, how.core_filter
        )
    except TooLittleData as fault:
        raise FileError(f"{this} gives no figure: {fault}") from None
    if not _RA_UM[0] <= found.ra <= _RA_UM[1]:
        raise FileError(
            f"{this} would have an Ra of {found.ra:.3g} um, which no surface of an engine has: say the right "
            "unit of its heights in the layout, or export it again (SDF and x3p are in metres)"
        )
    return found


def _row(
    key: str, texture: Texture, one: Whole, how: Judged, layout: TraceLayout, texts: Mapping[str, str],
    shop: Shop, sha256: str, number: int,
) -> Row:  # fmt: skip
    told = {
        **texts, "characteristic": key, "method": how.method(key), "value": f"{getattr(texture, key):.5f}",
        "unit": "%" if key in _PERCENT else "um", "note": _note(key, texture, one, how, layout, texts),
    }  # fmt: skip
    return row_of(shop, sha256, Place(None, number, key), told)


def _note(
    key: str, texture: Texture, one: Whole, how: Judged, layout: TraceLayout, texts: Mapping[str, str]
) -> str:
    short = f"short cut-off {how.short_um:g} um" if how.short_um else "no short cut-off"
    said = [
        how.filter_name(key), f"cut-off {how.cutoff_mm:g} mm", short,
        f"{texture.points} of {one.heights.size} points at {one.spacing:.6g} um",
    ]  # fmt: skip
    if layout.tip_um:
        said.append(f"tip {layout.tip_um:g} um")
    if one.bridged:
        said.append(f"{one.bridged} points bridged")
    own = f"{texts['note']}; " if texts.get("note") else ""
    return f"{own}{', '.join(said)}; Rq {texture.rq:.4f} um, Rt {texture.rt:.4f} um"

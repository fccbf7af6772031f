"""What there is to say of a trace: as findings, and as a first layout for a person to complete."""

import re
from typing import TYPE_CHECKING

from qc.ingest import keys
from qc.ingest.beside import NEEDS_LAYOUT, SAY_IT
from qc.records import Cell, Finding

if TYPE_CHECKING:
    from qc.ingest.trace import Profile, Whole

_DATE = re.compile(r"\d{4}-\d\d-\d\d")


def unread(why: str, cure: str = SAY_IT) -> Finding:
    """A trace that waits because nothing says what it is about."""
    return Finding(
        "stop", NEEDS_LAYOUT, (), f"The profile trace was not read: {why}.",
        "A trace tells nothing of the bore, the machine or the filter it is meant for, and none of them is "
        "guessed.", cure, "No figure comes of it.",
    )  # fmt: skip


def layout_says_not(name: str, missing: tuple[str, ...]) -> Finding:
    """A trace that its layout does not tell enough about."""
    listed = ", ".join(missing)
    return unread(
        f"the layout {name} does not say its {listed}",
        f"Write {'it' if len(missing) == 1 else 'them'} into the [[trace]] and take the file in again.",
    )


def of_profile(number: int, profile: "Profile", one: "Whole", this: str) -> list[Finding]:
    """What was read of a profile, and an `ask` where points were bridged."""
    import numpy as np

    size, length = one.heights.size, one.heights.size * one.spacing / 1000
    low, high = float(np.min(one.heights)), float(np.max(one.heights))
    cell = Cell(number, "z", f"{size} points")
    when = f", measured {profile.at} as it says itself" if profile.at else ""
    cut = f"; {one.cut} unmeasured points at its ends were left off" if one.cut else ""
    found = [Finding(
        "note", "trace_read", (cell,),
        f"{this[:1].upper()}{this[1:]} has {size} points at {one.spacing:.6g} um, {length:.4g} mm, with "
        f"heights from {low:.3f} to {high:.3f} um{when}{cut}.",
        "The figures were computed from it; how stands in the note of each.", "Nothing, if that is right.",
        "Its figures count.",
    )]  # fmt: skip
    if one.bridged:
        found.append(Finding(
            "ask", "trace_gaps", (cell,), f"In {this} {one.bridged} of {size} points were not measured.",
            "They were put in by a straight line; dirt or a glaring spot may stand there.",
            "Accept if the surface is what was meant; otherwise discard, and measure again.",
            "The figures count as computed with them.",
        ))  # fmt: skip
    return found


def first_layout(name: str, text: bool, dated: bool) -> str:
    """TOML of a first layout for a trace.

    Parameters
    ----------
    name : str
        Name of the file, whose parts are guessed for a person to correct.
    text : bool
        Whether it is plain text, of which must be said what it holds.
    dated : bool
        Whether the file tells itself when it was measured.
    """
    stem, dot, ending = name.rpartition(".")
    stem, ending = (stem, dot + ending) if dot else (name, "")
    pieces = stem.split("_")
    parts = _parts(pieces)
    form = "_".join("{" + p + "}" for p in parts)
    lines = [
        "# What profile traces with such names are about. Lines behind # are not said yet: complete them,",
        "# then take the # away.",
        f'file = ["{"_".join("*" for _ in pieces)}{_plain(ending)}"]', "", "[[trace]]",
        f'name = "{form}"  # the parts of the file\'s name, in braces: correct them',
    ]  # fmt: skip
    asked = {
        "build": "which engine", "feature": "which bore: cyl-3, or cyl-{n} with a part n of the name",
        "machine": "which machine made it", "operation": "at which operation: plateau_hone, ...",
        "state": "how it was held when measured: plate_on, plate_off, ...",
        "date": "when it was measured",
    }  # fmt: skip
    lines += [
        f'# {key} = ""  # {words}'
        for key, words in asked.items()
        if key not in parts and not (key == "date" and dated)
    ]
    lines += [
        "# gauge = \"\"" if "station_mm" in parts else '# station_mm = "60"',
        "# cutoff_mm = 0.8  # the cut-off that is meant: nothing in the file says it",
        "# short_cutoff_um = 2.5  # 0 for none; else the one that goes with the cut-off (ISO 3274)",
        '# rk_filter = "iso13565-1"  # for Rk, Rpk, Rvk, Mr1, Mr2, Vo; or iso16610-31', "# tip_um = 2",
        '# figures = ["ra", "rz"]  # else all of them',
    ]  # fmt: skip
    if text:
        lines += [
            '# content = "x_z"  # places and heights; or spacing_first; or z with spacing = "0.5 um"',
            '# x_unit = "mm"  # where the header does not say them', '# z_unit = "um"',
        ]  # fmt: skip
    return "\n".join(lines) + "\n"


def _plain(text: str) -> str:
    return "".join(c if c.isalnum() or c in ".-" else "?" for c in text)


def _parts(pieces: list[str]) -> list[str]:
    """What the pieces of a name look like, each once; the others are numbered."""
    found: list[str] = []
    for number, piece in enumerate(pieces, start=1):
        guess = "part_" + str(number)
        if keys.feature(piece):
            guess = "feature"
        elif _DATE.fullmatch(piece):
            guess = "date"
        elif re.fullmatch(r"\d{1,3}(\.\d+)?", piece) and "feature" in found:
            guess = "station_mm"
        elif number == 1 and len(pieces) > 1:
            guess = "build"
        found.append(guess if guess not in found else f"part_{number}")
    return found

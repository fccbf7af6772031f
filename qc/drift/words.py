"""What a condition and a signal say to a machinist."""

from collections.abc import Sequence

from qc.drift.series import BoresToLimit, SeriesBlocks, Toward


def block_name(series: SeriesBlocks, block: int) -> str:
    """Return the build of a block, or its number when builds are not named."""
    named = series.builds[block] if block < len(series.builds) else ""
    return f"build {named}" if named else f"block {block + 1}"


def number(value: float) -> str:
    """Return a figure in three significant digits, never with an exponent."""
    size = abs(value)
    digits = 0 if size >= 100 else 1 if size >= 10 else 2 if size >= 1 else 3 if size >= 0.1 else 4
    return f"{value:+.{digits}f}"


def moved(series: SeriesBlocks, block: int, amount: float) -> str:
    """Return the words of a step."""
    return (
        f"the level moved by {number(amount)} {series.unit} with {block_name(series, block)} "
        "and no event says why"
    )


def slopes(series: SeriesBlocks, block: int, slope: float, usual: float | None) -> str:
    """Return the words of a slope that stands out."""
    per = series.wear_unit[:-1]
    text = f"moves {number(slope)} {series.unit} a {per} since {block_name(series, block)}"
    if usual is None:
        return text
    ratio = slope / usual if usual else 0.0
    times = f"{ratio:.1f} times as fast as usual" if 1 < ratio < 100 else f"usual is {number(usual)}"
    return f"{text}, {times}"


def far_apart(kind: str, ratio: float) -> str:
    """Return the words of a spread that grew."""
    what = "bores of one block lie" if kind == "spread_grown" else "block means lie"
    return f"{what} {ratio:.1f} times as far apart as in the blocks learned from"


def off(series: SeriesBlocks, block: int, amount: float) -> str:
    """Return the words of one block that is off."""
    return f"{block_name(series, block)} alone is off by {number(amount)} {series.unit}"


def meets(toward: Toward | None, left: BoresToLimit | None) -> str | None:
    """Return the words of a forecast, None without one."""
    if toward is None or left is None or left.median is None:
        return None
    if left.median == 0:
        return f"already beyond the {toward} limit"
    end = "no end in sight" if left.upper is None else f"{left.upper:.0f}"
    least = 0.0 if left.lower is None else left.lower
    return f"meets the {toward} limit in about {left.median:.0f} {left.of}, {least:.0f} to {end}"


def sentence(parts: Sequence[str | None]) -> str:
    """Return the parts that are there, joined."""
    return "; ".join(part for part in parts if part)

"""The forecast of a ribbon: where it starts, when it meets the limit, and its words."""

from collections.abc import Sequence

from qc.reports.ribbon import By, Dot, Fan, Row


def _step(drift: Row, dots: Sequence[Dot], by: By) -> float:
    """Width on the picture of one bore (or block) to come, as in the present stretch."""
    mine = [d for d in dots if d.stretch == dots[-1].stretch and d.wear is not None]
    worn = (mine[-1].wear or 0.0) - (mine[0].wear or 0.0) if mine else 0.0
    if worn > 0:
        return (mine[-1].x - mine[0].x) / worn
    blocks = drift["bores_to_limit"].get("of") == "blocks"
    per_block = sum(d.bores for d in dots) / len(dots) if blocks else 1.0
    if by == "bores":
        return per_block
    bores = sum(d.bores for d in dots[1:])
    return per_block * (dots[-1].x - dots[0].x) / bores if bores else 0.0


def fan_words(drift: Row) -> str:
    """`meets the upper limit in about 140 bores, 90 to 260` of a drift row with a forecast."""
    left = drift["bores_to_limit"]
    of, side = left.get("of") or "bores", drift.get("toward") or "nearer"
    if left["median"] is not None and left["median"] <= 0:
        return f"already beyond the {side} limit"
    end = "no end in sight" if left.get("upper") is None else f"{left['upper']:.0f}"
    return f"meets the {side} limit in about {left['median']:.0f} {of}, {left['lower']:.0f} to {end}"


def _level(drift: Row, dots: Sequence[Dot], limit: float) -> float:
    """Where the fan starts: on the row's line where that runs through the last blocks, else at their mean."""
    last = [d.mean for d in dots if d.stretch == dots[-1].stretch][-5:]
    left = drift["bores_to_limit"]
    if drift.get("slope") and drift.get("slope_per", "bore") == (left.get("of") or "bores").rstrip("s"):
        on_line = limit - float(drift["slope"]) * float(left["median"])
        if min(last) <= on_line <= max(last):
            return on_line
    return sum(last) / len(last)


def fan_of(drift: Row | None, dots: Sequence[Dot], by: By) -> Fan | None:
    """The forecast of a drift row, None where it has none or the limit is already passed."""
    left = (drift or {}).get("bores_to_limit")
    if drift is None or not left or not dots or left.get("median") is None or drift.get("limit") is None:
        return None
    if left["median"] <= 0:
        return None
    step, x, limit = _step(drift, dots, by), dots[-1].x, float(drift["limit"])
    level = _level(drift, dots, limit)
    ends = [x + step * left[k] if left.get(k) is not None else None for k in ("median", "lower", "upper")]
    lower = ends[1] if ends[1] is not None else x
    return Fan(x, level, limit, ends[0] or x, lower, ends[2], fan_words(drift)) if step else None

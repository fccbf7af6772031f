"""Kept readings with target, coded deviation and limits in force: what every value starts from.

Arithmetic on ticks (whole 1e-5 um) until the last step, so that inch and millimetre files give the same bits.
"""

from collections.abc import Mapping, Sequence

import numpy as np
import pandas as pd

from qc.catalogue import CATALOGUE
from qc.history.specs import InForce, resolve
from qc.history.temperature import brought
from qc.records import Build, Gauge, Spec
from qc.units import TICKS_PER_UM

SERIES = ("machine", "operation", "characteristic", "method", "state")
_TOUCH = 1e-6  # um: a tenth of the finest digit kept; a derived mean may miss its limit by rounding alone


def column(frame: pd.DataFrame, name: str) -> np.ndarray:
    """A nullable whole-number column as floats, NaN where blank."""
    values: np.ndarray = pd.to_numeric(frame[name]).to_numpy(dtype=float, na_value=np.nan)
    return values


def text(frame: pd.DataFrame, name: str) -> np.ndarray:
    """A text column as objects, None where blank."""
    values = frame[name].astype(object)
    found: np.ndarray = values.where(values.notna(), None).to_numpy()
    return found


def typed(
    frame: pd.DataFrame, specs: Sequence[Spec], builds: Mapping[str, Build], gauges: Sequence[Gauge] = ()
) -> pd.DataFrame:
    """The store's readings with what they are judged by.

    Parameters
    ----------
    frame : DataFrame
        As `Store.readings` gives it.
    specs, builds, gauges
        In force.

    Returns
    -------
    DataFrame
        The columns of `frame` and: `block` (the build; a reading without build is its own block), `size`
        [ticks, at 20 degC], `size_as_read` [ticks], `at_20` (whether it was moved there), `not_at_20` (why
        one read away from it was not), `aim` [ticks, NaN], `shown` (coded deviation, or the value as it is,
        in um or the characteristic's own unit; NaN without a target), `lower_limit`, `upper_limit` (same
        form), `limit_target`, `spec`, `sized` (`InForce`), `passed_over`, `disagrees` (own limits differ from
        those in force), `pass_no`, `known_engine`.
    """
    out = frame.reset_index(drop=True).copy()
    out["known_engine"] = known_engine(out, builds)
    coded = out["characteristic"].map(lambda key: CATALOGUE[key].coded).to_numpy(dtype=bool)
    asked = out[
        ["build", "operation", "characteristic", "feature", "station", "clock", "state", "made_at"]
    ].copy()
    asked["engine"] = out["known_engine"]
    asked["target"] = out["target"]
    found = resolve(specs, asked)
    value = out["value"].to_numpy(dtype=float)
    relative = out["relative"].to_numpy(dtype=bool)
    as_read = np.where(relative, found.target + value, value)
    warm = brought(out, as_read, builds, gauges)
    size = warm.size
    zero = np.where(coded, found.target, 0.0)
    out["size_as_read"], out["at_20"], out["not_at_20"] = as_read, warm.moved, warm.why_not
    out["size"], out["aim"], out["shown"] = size, found.target, (size - zero) / TICKS_PER_UM
    lower, upper, disagrees = _limits(out, found, zero - np.where(relative, found.target, 0.0))
    out["lower_limit"], out["upper_limit"], _ = by_method(out, lower / TICKS_PER_UM, upper / TICKS_PER_UM)
    out["limit_target"] = np.where(found.spec >= 0, found.offset, np.where(coded, 0.0, np.nan)) / TICKS_PER_UM
    out["spec"], out["sized"], out["passed_over"] = found.spec, found.sized, found.passed_over
    out["disagrees"] = disagrees
    out["block"] = _block(out)
    out["pass_no"] = passes(out)
    return out


def known_engine(frame: pd.DataFrame, builds: Mapping[str, Build]) -> np.ndarray:
    """Engine of each reading: its own, else its build's, else that of another reading of the build."""
    own = text(frame, "engine")
    of_build = {name: b.engine for name, b in builds.items() if b.engine}
    told = pd.Series(own).groupby(pd.Series(text(frame, "build"))).first()
    of_build = {**{k: v for k, v in told.items() if v is not None}, **of_build}
    return np.array([
        e if e is not None else of_build.get(b) for e, b in zip(own, text(frame, "build"), strict=True)
    ], dtype=object)  # fmt: skip


def _block(frame: pd.DataFrame) -> np.ndarray:
    build = text(frame, "build")
    when = frame["made_at"].to_numpy()
    return np.array([b if b is not None else f"@{t}" for b, t in zip(build, when, strict=True)], dtype=object)


def _limits(
    frame: pd.DataFrame, found: InForce, zero: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Limits from the winner; the row's own only where no specification matches, not even one passed over."""
    own_lower, own_upper = column(frame, "lower") - zero, column(frame, "upper") - zero
    none = (found.spec < 0) & ~found.passed_over & (found.sized < 0)
    with np.errstate(invalid="ignore"):
        differ = (np.abs(own_lower - found.lower) > 0.5) | (np.abs(own_upper - found.upper) > 0.5)
    return np.where(none, own_lower, found.lower), np.where(none, own_upper, found.upper), differ & ~none


def by_method(
    values: pd.DataFrame, lower: np.ndarray, upper: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Limits that fit the method, and which values are wanted at all.

    A window with an upper limit only is a book's maximum: it judges a magnitude (taper `range`, overall
    misalignment), not the signed figure. The range of a taper is made only where such a window asks for it.
    """
    method = values["method"].astype(str)
    ranged = method.isin(("range", "typed-range")).to_numpy()
    magnitude = ranged | method.str.startswith(("overall-", "typed-overall-")).to_numpy()
    has_both = values["characteristic"].isin(("bore_taper", "tunnel_offset")).to_numpy()
    book = has_both & np.isnan(lower) & ~np.isnan(upper)
    low = np.where(magnitude, np.nan, lower)
    high = np.where((magnitude & ~book) | (has_both & ~magnitude & book), np.nan, upper)
    return low, high, ~(ranged & ~book)


def passes(frame: pd.DataFrame) -> np.ndarray:
    """Pass of each reading; a blank one is the latest pass known of that bore at that time (1 when none).

    Parameters
    ----------
    frame : DataFrame
        Columns block, machine, operation, feature, pass, made_at.
    """
    given = column(frame, "pass")
    out = np.where(np.isnan(given), 1.0, given)
    blank = np.isnan(given)
    if not blank.any() or not (given > 1).any():
        return out.astype(int)
    keys = ["block", "machine", "operation", "feature"]
    work = frame[[*keys, "made_at"]].copy()
    work["given"] = given
    work["at"] = np.arange(len(work))
    work = work.sort_values(["made_at", "given"], kind="stable", na_position="last")
    latest = work.groupby(keys, sort=False, dropna=False)["given"].transform(lambda g: g.cummax().ffill())
    filled = pd.Series(latest.to_numpy(), index=work["at"]).sort_index().to_numpy()
    return np.where(blank, np.where(np.isnan(filled), 1.0, filled), given).astype(int)


def inside(shown: np.ndarray, lower: np.ndarray, upper: np.ndarray) -> np.ndarray:
    """Whether each local size conforms: on the limit conforms; where there is no limit it cannot fail."""
    with np.errstate(invalid="ignore"):
        return ~((shown < lower - _TOUCH) | (shown > upper + _TOUCH))

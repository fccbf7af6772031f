"""Whether a build's dates can be: not to come, not before the block arrived, not after the engine left."""

from collections import defaultdict
from collections.abc import Iterator, Sequence
from datetime import UTC, datetime, timedelta
from typing import Final, NamedTuple

import numpy as np

from qc.ingest.plausible.fit import middle
from qc.ingest.plausible.registered import DAY, day, written
from qc.ingest.plausible.scene import Scene, Suspicion
from qc.ingest.times import EPOCH

CODES: Final = ("doubtful_date",)
RIVALS: Final = False
_STAYS: Final = 30  # days a build stays where nothing tells (common practice, no source)
_APART: Final = 14  # days beyond what is usual that are worth a word
_SLACK: Final = DAY  # a sheet may be begun the evening before, or closed the day after


class Stay(NamedTuple):
    """From when to when a build can have been measured [us], and what says so."""

    first: float
    last: float
    usual: float
    received: str
    shipped: str


class Doubtful(NamedTuple):
    """Why a date is doubted, and the time that is proposed instead or NaN."""

    reason: str
    instead: float


def doubts(scene: Scene) -> Iterator[Suspicion]:
    """Yield one suspicion a build and reason."""
    builds = {build: at for (build,), at in scene.groups(("build",)).items() if build is not None}
    now = (datetime.now(UTC) - EPOCH) / timedelta(microseconds=1)
    stays = _stays(scene)
    for build, at in builds.items():
        made = scene.columns["made_at"][at].astype(float)
        stay = _stay(scene, build, stays)
        beside = scene.beside_columns["made_at"][scene.beside_columns["build"] == build] if scene.kept else []
        groups: dict[str, list[int]] = defaultdict(list)
        instead: dict[int, float] = {}
        times = np.concatenate((made, np.asarray(beside, dtype=float)))
        centre = middle(times)
        for i, t in zip(at, made.tolist(), strict=True):
            told = None if _usual(t, stay, now, centre) else _doubtful(t, stay, now, times)
            if told is not None:
                groups[told.reason].append(i)
                instead[i] = told.instead
        for reason, some in groups.items():
            yield _suspicion(scene, build, reason, some, instead, stay)


def _stays(scene: Scene) -> float:
    """Longest time from arrival to measuring of the builds before [us]."""
    found = []
    for series in scene.series:
        for block in scene.past(series).blocks:
            known = scene.builds.get(block.build)
            if known is not None and known.received_on is not None:
                found.append(max(r.made_at for r in block.readings) - known.received_on)
    return float(np.quantile(found, 0.95)) if len(found) > 5 else _STAYS * DAY


def _stay(scene: Scene, build: str, usual: float) -> Stay:
    known = scene.builds.get(build)
    received = known.received_on if known else None
    shipped = known.shipped_on if known else None
    return Stay(
        -np.inf if received is None else received, np.inf if shipped is None else shipped + DAY, usual,
        "" if received is None else day(received), "" if shipped is None else day(shipped),
    )  # fmt: skip


def _usual(t: float, stay: Stay, now: float, centre: float) -> bool:
    """Whether nothing speaks against a time: most times are like that, and no other need be thought of."""
    if not stay.first - _SLACK <= t <= min(stay.last + _SLACK, now + DAY):
        return False
    away = t - stay.first if np.isfinite(stay.first) else abs(t - centre)
    return away - stay.usual <= _APART * DAY


def _doubtful(t: float, stay: Stay, now: float, others: np.ndarray) -> Doubtful | None:
    """Why a time is doubted, or None."""
    fits = [s for s in _otherwise(t) if _fits(s, stay, now, others[others != t])]
    instead = fits[0] if fits else float("nan")
    if t > now + DAY:
        return Doubtful("to come", instead)
    if t < stay.first - _SLACK:
        return Doubtful("before it arrived", instead)
    if t > stay.last + _SLACK:
        return Doubtful("after it left", instead)
    if np.isfinite(stay.first):
        away = t - stay.first - stay.usual
    else:
        away = abs(t - float(np.median(others))) - stay.usual
    return Doubtful("apart", instead) if fits and away > _APART * DAY else None


def _otherwise(t: float) -> Iterator[float]:
    """The same date with day and month exchanged, and with the years beside."""
    at = EPOCH + timedelta(microseconds=int(t))
    if at.day <= 12 and at.day != at.month:
        yield (at.replace(month=at.day, day=at.month) - EPOCH) / timedelta(microseconds=1)
    for year in (1, -1, 10, -10):
        try:
            yield (at.replace(year=at.year + year) - EPOCH) / timedelta(microseconds=1)
        except ValueError:  # the 29th of February
            continue


def _fits(t: float, stay: Stay, now: float, others: np.ndarray) -> bool:
    """Whether a time lies where a build's usually do: after its arrival, or among its other readings."""
    if t > now + DAY or t > stay.last + _SLACK:
        return False
    if np.isfinite(stay.first):
        return bool(stay.first - _SLACK <= t <= stay.first + stay.usual + _APART * DAY)
    return bool(len(others)) and abs(t - float(np.median(others))) <= _APART * DAY


def _suspicion(
    scene: Scene, build: str, reason: str, at: Sequence[int], instead: dict[int, float], stay: Stay
) -> Suspicion:
    made = scene.columns["made_at"][list(at)]
    days = sorted({day(t) for t in made})
    span = days[0] if len(days) == 1 else f"{days[0]} to {days[-1]}"
    why = {
        "to come": "That day is still to come.",
        "before it arrived": f"By the list of builds {build} arrived on {stay.received}.",
        "after it left": f"By the list of builds {build} left on {stay.shipped}.",
        "apart": f"{build} arrived on {stay.received}, and builds are measured within "
        f"{max(1, round(stay.usual / DAY))} days." if stay.received
        else "The other readings of the build are weeks away.",
    }  # fmt: skip
    fitting = [i for i in at if instead[i] == instead[i]]
    if fitting:
        first = fitting[0]
        proposal = f"Is {day(scene.columns['made_at'][first])} meant as {day(instead[first])}? "
    else:
        proposal = ""
    c = scene.rows[at[0]]
    column = "made_at" if c.made_at != c.measured_at else "measured_at"
    return Suspicion(
        tuple(at), "doubtful_date", "stop" if reason == "to come" else "ask", f"{build}|{reason}",
        f"{{who}}: dated {span}.", why[reason],
        f"{proposal}Correct the dates in the file or the list of builds; accept if both are right.",
        "" if reason == "to come"
        else "The readings count on these days: in these months, and under the limits in force then.",
        {i: written(instead[i], scene.rows[i].made_is_date) for i in fitting}, column,
    )  # fmt: skip

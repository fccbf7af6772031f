"""Whether a build's dates lie a year, or ten, before the blocks it follows, by last year's date or a digit.

Only where no list of builds tells when it arrived, and only in series whose blocks always came in the order
in which they were made: a shop that takes in old files is not asked.
"""

from collections.abc import Iterator, Sequence
from datetime import UTC, datetime, timedelta
from typing import Final, NamedTuple

import numpy as np

from qc.ingest.plausible.past import Past
from qc.ingest.plausible.registered import DAY, day, written
from qc.ingest.plausible.scene import Scene, Suspicion
from qc.ingest.times import EPOCH

CODES: Final = ("year_back",)
RIVALS: Final = False
_BLOCKS: Final = 8  # past blocks that tell in which order a shop's files come
_SLACK: Final = 30 * DAY  # behind the latest block, and twice what any block ever was
_NEXT: Final = 14 * DAY  # after the latest block, and three times the usual way to the next one
_FAR: Final = 90 * DAY  # what lies farther from the latest block follows nothing
_YEARS: Final = (1, 10)


class _Order(NamedTuple):
    """Time of the latest block of a series, and how far behind and after it the next one may lie [us]."""

    latest: float
    behind: float
    after: float


def doubts(scene: Scene) -> Iterator[Suspicion]:
    """Yield one suspicion a build and number of years."""
    now = (datetime.now(UTC) - EPOCH) / timedelta(microseconds=1)
    for (build,), at in scene.groups(("build",)).items():
        known = scene.builds.get(build) if build is not None else None
        if build is None or (known is not None and known.received_on is not None):
            continue
        beside = scene.beside_columns["made_at"][scene.beside_columns["build"] == build] if scene.kept else ()
        found = _instead(scene, build, at, now, np.asarray(beside, dtype=float))
        for years in _YEARS:
            some = [i for i in at if found.get(i, (0, 0.0))[0] == years]
            if some:
                yield _suspicion(scene, build, some, {i: found[i][1] for i in some}, years)


def _instead(
    scene: Scene, build: str, at: Sequence[int], now: float, beside: np.ndarray
) -> dict[int, tuple[int, float]]:
    """Years and time that fit better, of the readings that lie behind by just so much."""
    found: dict[int, tuple[int, float]] = {}
    orders: dict[tuple[str, ...], _Order | None] = {}
    for i in at:
        r = scene.rows[i]
        series = (r.machine, r.operation, r.characteristic, r.method, r.state)
        if series not in orders:
            orders[series] = _order(scene.past(series), build)
        told, t = orders[series], float(r.made_at)
        # what else of the build is known lies there too: it is an old one
        if told is None or np.any(np.abs(beside - t) < _FAR):
            continue
        fitting = [(y, s) for y in _YEARS if (s := _later(t, y)) is not None and _follows(s, told, now)]
        if fitting:
            found[i] = fitting[0]
    return found


def _order(past: Past, build: str) -> _Order | None:
    """How the blocks of a series follow each other as they come in; None where they come in no order."""
    times: dict[str, float] = {}
    for block in past.blocks:
        if block.build != build:
            last = max(r.made_at for r in block.readings)
            times[block.build] = max(times.get(block.build, last), last)
    if len(times) < _BLOCKS:
        return None
    made: np.ndarray = np.array(list(times.values()))
    so_far = np.maximum.accumulate(made)
    lag = made[1:] - so_far[:-1]
    behind = _SLACK + 2 * max(0.0, float(-lag.min()))
    after = _NEXT + 3 * float(np.quantile(np.maximum(lag, 0.0), 0.95))
    return _Order(float(so_far[-1]), behind, min(after, _FAR)) if behind < _FAR else None


def _later(t: float, years: int) -> float | None:
    at = EPOCH + timedelta(microseconds=int(t))
    try:
        return (at.replace(year=at.year + years) - EPOCH) / timedelta(microseconds=1)
    except ValueError:  # the 29th of February
        return None


def _follows(t: float, told: _Order, now: float) -> bool:
    return told.latest - told.behind <= t <= min(told.latest + told.after, now + DAY)


def _suspicion(
    scene: Scene, build: str, at: Sequence[int], instead: dict[int, float], years: int
) -> Suspicion:
    made = scene.columns["made_at"]
    days = sorted({day(made[i]) for i in at})
    span = days[0] if len(days) == 1 else f"{days[0]} to {days[-1]}"
    first = scene.rows[at[0]]
    column = "made_at" if first.made_at != first.measured_at else "measured_at"
    texts = {i: written(t, scene.rows[i].made_is_date) for i, t in instead.items()}
    much = "a year" if years == 1 else f"{years} years"
    return Suspicion(
        tuple(at), CODES[0], "ask", f"{build}|{years}", f"{{who}}: dated {span}.",
        f"Blocks of this machine come in as they are made, and this one is {much} behind the last of them.",
        f"Is {day(made[at[0]])} meant as {day(instead[at[0]])}? Correct takes that; accept if {build} is an "
        "old build.",
        "The readings count on these days: in these months, under the limits in force then, and before the "
        "blocks since.",
        texts, column,
    )  # fmt: skip

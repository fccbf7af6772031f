"""Whether a place was read at several times in one pass: honed again, or only read again?"""

from collections import defaultdict
from collections.abc import Iterator
from typing import Any, Final

import numpy as np

from qc.catalogue import CATALOGUE
from qc.ingest.plausible.registered import day
from qc.ingest.plausible.scene import Scene, Suspicion

CODES: Final = ("honed_again",)
RIVALS: Final = False
_PLACE: Final = (
    "build", "machine", "operation", "characteristic", "method", "state", "feature", "station", "clock",
    "trial",
)  # fmt: skip


def doubts(scene: Scene) -> Iterator[Suspicion]:
    """Yield one suspicion a build, operation and characteristic of which the last reading counts."""
    times: dict[tuple[Any, ...], set[int]] = defaultdict(set)
    places = _places(scene.columns)
    for columns in scene.everywhere:
        keys = places if columns is scene.columns else _places(columns)
        for key, at in zip(keys, columns["made_at"].tolist(), strict=True):
            times[key].add(at)
    groups: dict[tuple[Any, ...], list[int]] = defaultdict(list)
    for i, key in enumerate(places):
        if key[0] is not None and len(times[key]) > 1 and CATALOGUE[key[3]].repeats == "last":
            groups[key[0], key[2], key[3]].append(i)
    for (build, operation, characteristic), at in groups.items():
        yield _suspicion(build, operation, characteristic, at, {t for i in at for t in times[places[i]]})


def _places(columns: dict[str, np.ndarray]) -> list[tuple[Any, ...]]:
    """Place, trial and pass of each reading; a blank pass is the first."""
    told = [columns[n].tolist() for n in _PLACE] + [np.nan_to_num(columns["pass"], nan=1.0).tolist()]
    blank = [[-1.0 if x != x else x for x in column] for column in told]
    return list(zip(*blank, strict=True))


def _suspicion(build: str, operation: str, characteristic: str, at: list[int], times: set[int]) -> Suspicion:
    first, last = day(min(times)), day(max(times))
    when = f"on {first}" if first == last else f"from {first} to {last}"
    return Suspicion(
        tuple(at), "honed_again", "ask", f"{build}|{operation}|{characteristic}",
        f"{{who}} {{read}} at more than one time {when}, as one and the same pass.",
        "A later reading of a place is either a second pass, after more work, or the same work read again.",
        "Were they honed again? Correct writes pass 2 into the later rows; accept if it was the same work.",
        "The latest reading of a place counts, the earlier ones are passed over.",
        dict.fromkeys(at, "2"), "pass",
    )  # fmt: skip

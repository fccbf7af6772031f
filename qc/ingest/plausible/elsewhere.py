"""Whether a whole table lies far from where its series always was, by an amount that no known slip makes.

The target of the build before, left in a sheet, does that: targets differ by an oversize and some um more.
"""

from collections.abc import Iterator
from typing import Any, Final

from qc.ingest.checks import FAR, shown
from qc.ingest.plausible.scene import Scene, Suspicion
from qc.ingest.plausible.values import verdict_changes
from qc.ingest.plausible.zeroed import MOST, TABLE, Moved, moved
from qc.units import TICKS_PER_UM

CODES: Final = ("level_elsewhere",)
RIVALS: Final = True
_NOT_AIMED: Final = ("receive", "check")  # what comes in was made to somebody else's target


def doubts(scene: Scene) -> Iterator[Suspicion]:
    """Yield one suspicion a table; what is nearer than a gauge's zero explains is not looked at."""
    for key, at in scene.groups(TABLE).items():
        table = None if key[1] is None or key[3] in _NOT_AIMED else moved(scene, key, at)
        if table is not None and table.form and max(MOST, table.limit) <= abs(table.off) <= FAR:
            yield _suspicion(scene, key, table)


def _suspicion(scene: Scene, key: tuple[Any, ...], table: Moved) -> Suspicion:
    c = scene.columns
    stop = any(verdict_changes(scene, i, float(c["size"][i]) - table.off) for i in table.at)
    aims = c["size"][table.at] - c["deviation"][table.at]
    least, most = (shown(round(float(aim)), "mm") for aim in (aims.min(), aims.max()))
    aim = f"the target {least}" if least == most else f"targets from {least} to {most}"
    return Suspicion(
        tuple(table.at), "level_elsewhere", "stop" if stop else "ask", f"{key[1:]}",
        f"{{who}}: {table.off / TICKS_PER_UM:+.0f} um from where such work usually is, with {aim}.",
        "The form is as ever. The target of another build does that, and so does a gauge set for one.",
        "Hold the target against the build's plan, and read the gauge's master. If one was wrong, discard "
        "these rows and take them in again put right; accept if the block was made so.",
    )  # fmt: skip

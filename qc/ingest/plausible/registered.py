"""Whether the gauge was known and in date, and whether aluminium was read with its temperature."""

from collections import defaultdict
from collections.abc import Iterable, Iterator
from datetime import timedelta
from difflib import get_close_matches
from typing import Final

from qc.derived.materials import is_aluminium
from qc.ingest.plausible.scene import Scene, Suspicion
from qc.ingest.times import EPOCH
from qc.records import Gauge

CODES: Final = ("gauge_expired", "gauge_unknown", "no_temperature")
RIVALS: Final = False
DAY: Final = 86_400_000_000  # [us]
# what is cut out of the block: its size goes with the block's temperature
_OF_THE_BLOCK: Final = frozenset({"bore_diameter", "tunnel_diameter", "shell_bore"})
_OF_A_PART: Final = _OF_THE_BLOCK | {
    "piston_diameter", "rod_bore_diameter", "journal_diameter", "pin_diameter",
}  # fmt: skip


def day(us: float) -> str:
    """The day of a time, in words [UTC]."""
    return f"{EPOCH + timedelta(microseconds=int(us)):%Y-%m-%d}"


def written(us: float, is_date: bool) -> str:
    """A time as a cell of a readings file has it [UTC], its day alone where only that was said."""
    return day(us) if is_date else f"{EPOCH + timedelta(microseconds=int(us)):%Y-%m-%dT%H:%M:%S}Z"


def doubts(scene: Scene) -> Iterator[Suspicion]:
    """Yield what the registers have against gauges, then what lacks a temperature."""
    by_gauge = {name: at for (name,), at in scene.groups(("gauge",)).items() if name is not None}
    register: dict[str, list[Gauge]] = defaultdict(list)
    for row in scene.gauges if by_gauge else ():
        register[row.gauge].append(row)
    if any(row.kind != "master" for rows in register.values() for row in rows):
        for name, at in by_gauge.items():
            yield from _expired(scene, name, at, register[name])
            if not register[name]:
                yield _unknown(scene, name, at, [n for n, rows in register.items() if rows])
    yield from _cold(scene)


def _expired(scene: Scene, name: str, at: list[int], rows: list[Gauge]) -> Iterator[Suspicion]:
    """Readings after the day on which the gauge was due; the day itself is still good."""
    measured = scene.columns["measured_at"]
    late = [i for i in at if not _good(rows, int(measured[i]))]
    if late:
        due = max(r.due_on for r in rows if r.due_on is not None)
        yield Suspicion(
            tuple(late), "gauge_expired", "ask", name,
            f"{{who}} {{read}} on {name}, measured on {_span(measured[late])}.",
            f"By the register {name} was due for calibration on {day(due)}.",
            f"Add {name}'s new calibration to the register; accept if the readings may stand without it.",
            "The readings count; nobody can show that the gauge was right that day.", column="gauge",
        )  # fmt: skip


def _good(rows: list[Gauge], at: int) -> bool:
    """Whether a calibration covers a time, or none says until when it holds."""
    told = [r for r in rows if r.due_on is not None]
    before = [r for r in told if r.due_on is not None and r.due_on + DAY <= at]
    return not before or any(
        r.due_on is not None and at < r.due_on + DAY and (r.calibrated_on is None or r.calibrated_on <= at)
        for r in told
    )


def _span(times: Iterable[float]) -> str:
    told = sorted(times)
    first, last = day(told[0]), day(told[-1])
    return first if first == last else f"{first} to {last}"


def _unknown(scene: Scene, name: str, at: list[int], known: list[str]) -> Suspicion:
    used = any(r.gauge == name for s in scene.series for b in scene.past(s).blocks for r in b.readings)
    near = get_close_matches(name, known, 1, 0.6)
    is_it = f"Is it {near[0]}? " if near else ""
    return Suspicion(
        tuple(at), "gauge_unknown", "note" if used else "ask", name,
        f"{{who}} {{read}} on {name}; the register of gauges has none of that name.",
        "A gauge that is not on the register has no calibration anybody could show.",
        f"{is_it}Correct the name, or add the gauge to the register.",
        "The readings count, without a gauge behind them.",
        dict.fromkeys(at, near[0]) if near else {}, "gauge",
    )  # fmt: skip


def _cold(scene: Scene) -> Iterator[Suspicion]:
    """Aluminium without a temperature: an `ask` where the file writes temperatures, else a `note`."""
    groups: dict[str, list[int]] = defaultdict(list)
    for i, r in enumerate(scene.rows):
        if r.part_c is not None or r.characteristic not in _OF_A_PART or r.build is None:
            continue
        block = scene.builds.get(r.build) if r.characteristic in _OF_THE_BLOCK else None
        if is_aluminium(r.material or (block.material if block else None)):
            groups[r.characteristic].append(i)
    written = any(r.part_c is not None for r in scene.rows)
    for characteristic, at in groups.items():
        largest = max(abs(float(scene.columns["size"][i])) for i in at)
        # 21.5e-6/K: cast aluminium, qc.derived.materials
        grows = largest * 21.5e-6 * 5 / 100_000
        yield Suspicion(
            tuple(at), "no_temperature", "ask" if written else "note", characteristic,
            "{who} are of aluminium and have no temperature"
            + (", while other rows of the file do." if written else "."),
            f"Five degrees make {grows:.0f} um of this size; nobody can tell how warm the part was.",
            "Fill in part_c and gauge_c if they are known; accept if all was at 20 degC.",
            "The readings count as they were read, not brought to 20 degC.", column="part_c",
        )  # fmt: skip

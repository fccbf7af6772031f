"""Readings, files and writes for the tests of the store: a shop of invented names."""

import hashlib
from collections.abc import Sequence
from typing import Any

from qc.records import (
    Asked,
    Batch,
    Build,
    Cell,
    Event,
    Finding,
    Gauge,
    HeldRow,
    Machine,
    PlanRow,
    Reading,
    Source,
    Spec,
)
from qc.store import Store

NOON = 1_780_000_000_000_000  # us since 1970: a day in 2026
DAY = 86_400_000_000
MM = 100_000_000  # ticks


def sha(name: str) -> str:
    return hashlib.sha256(name.encode()).hexdigest()


def reading(row: int = 2, *, name: str = "a.csv", column: str = "value", **changes: Any) -> Reading:
    """A bore reading in a row of a file; each row is another bore."""
    told: dict[str, Any] = {
        "source": Source(sha(name), row, column, changes.pop("text", "93.0"), changes.pop("sheet", None)),
        "machine": "hone-2", "operation": "finish_bore", "characteristic": "bore_diameter",
        "method": "two-point", "state": "plate_on", "feature": f"cyl-{row - 1}", "value": 93 * MM + row,
        "unit": "mm", "measured_at": NOON + row, "made_at": NOON + row, "build": "K-17",
    }  # fmt: skip
    return Reading(**{**told, **changes})


def batch(name: str = "a.csv", kind: str = "readings", rows: int = 1) -> Batch:
    """A file whose content is its name, so that its SHA-256 is true."""
    return Batch(name=name, sha256=sha(name), kind=kind, content=name.encode(), rows=rows)


def take(store: Store, readings: Sequence[Reading], name: str = "a.csv", **more: Any) -> list[str]:
    """Take a file with these readings in; their ids."""
    with store.write(by="ann", command="ingest") as write:
        number = write.add_file(
            batch(name, rows=len(readings)), status="kept", kept=len(readings), held=0, already_kept=0
        )
        return write.add_readings(number, readings, **more)


def fill(store: Store) -> list[str]:
    """Something in every table; ids of the first file's readings."""
    ids = take(store, [reading(row) for row in range(2, 8)])
    with store.write(by="bea", command="shop", reason="set up") as write:
        number = write.add_file(
            batch("records.csv", "specs", 7), status="kept", kept=7, held=0, already_kept=0
        )
        source = Source(sha("records.csv"), 2, "event", "stones_changed")
        write.add_specs(number, [Spec("bore_diameter", "deviation", "um", lower=-500_000, upper=500_000)])
        write.add_events(number, [Event("stones_changed", NOON, machine="hone-2", source=source)])
        write.add_gauges(number, [Gauge("bg-1", resolution=100_000, unit="um")])
        write.add_builds(number, [Build("K-17", engine="straight six")])
        write.add_machines(number, [Machine("hone-2", kind="hone")])
        write.add_plan(number, [PlanRow("bore_diameter", station=10 * MM)])
        write.set("zone", "UTC")
        write.set_limits(
            ("hone-2", "finish_bore", "bore_diameter", "two-point", "plate_on"), 0.5, -2.0, 3.0, "learnt"
        )
        key = ("hone-2", "finish_bore", "bore_diameter", "two-point", "plate_on")
        write.choose(key, "family", "lognormal", "skewed by the stop")
        act = {"matter": "M-1", "act": "taken_up", "at": NOON, "initials": "RB", "said": "dress"}
        write.note("matter", act)
        write.note("reaction", {"characteristic": "bore_taper", "does": "dress the stones"})
        sent = {"matter": "M-1", "kind": "opened", "recipient": "owner@shop.example"}
        write.note("notice", sent)
    with store.write(by="ann", command="ingest") as write:
        number = write.add_file(batch("b.csv", rows=2), status="held", kept=0, held=2, already_kept=0)
        write.add_findings(number, [finding()], [held(3, name="b.csv"), held(4, name="b.csv")])
    with store.write(by="ann", command="held", reason="misread") as write:
        write.decide(1, "discard", "misread", rows=[1])
        write.void(ids[0], "gauge slipped")
        write.exclude({"reading": ids[1]}, "burr on the edge")
        write.withdraw("spec", 1, "superseded")
    return ids


def finding(code: str = "far_from_target", severity: str = "stop") -> Finding:
    return Finding(severity, code, (Cell(3, "value", "9.3"),), "9.3", "far off", "93", "one bore")


def held(row: int, *, name: str, finding: int = 0, **changes: Any) -> HeldRow:
    kept = reading(row, name=name, **changes)
    return HeldRow(row, None, finding, (("machine", kept.machine), ("value", "9.3")), kept)


_EVERY_KIND = (
    "spec", "event", "gauge", "build", "machine", "plan", "setting", "set_limit", "exclusion", "choice",
    "matter", "reaction", "notice",
)  # fmt: skip


def seen(store, as_of=None):
    """All that can be asked of a store, as of a revision."""
    frames = [store.readings(Asked(as_of=as_of), status=status) for status in ("counts", "all")]
    frames += [store.records(kind, as_of) for kind in _EVERY_KIND]
    # the last touching revision is of the newest state only
    frames += [store.series(as_of).drop(columns=["last_revision"])]
    frames += [store.findings(as_of=as_of), store.findings(as_of=as_of, open_only=False)]
    return [*frames, store.held(as_of=as_of), store.held(as_of=as_of, open_only=False)]


# for other processes: functions they can import


def write_often(place: str, who: str, times: int, together: Any = None) -> None:
    """Take in so many files of one reading, each in its own write, beginning when the others do."""
    with Store.open(place) as store:
        if together is not None:
            together.wait(60)
        for n in range(times):
            name = f"{who}-{n}.csv"
            take(store, [reading(2, name=name, machine=who, made_at=NOON + n)], name)


def open_new(place: str) -> None:
    """Make the store, or find it made by another."""
    with Store.open(place, create=True) as store:
        store.revision()


def hold_on(place: str, started: Any) -> None:
    """Write without ever coming to an end."""
    with Store.open(place) as store, store.write(by="eve", command="ingest") as write:
        number = write.add_file(batch("never.csv"), status="kept", kept=1, held=0, already_kept=0)
        write.add_readings(number, [reading(2, name="never.csv", machine="hone-9")])
        started.set()
        started.wait(0)
        while True:
            pass

"""The audit pack: answers, readings, limits, source files and how to recompute them, in one zip."""

import re
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from qc import __version__
from qc.errors import FileError
from qc.export import archive, auditor, bores, csv, json, packed, records, table, write
from qc.history.zone import shop_zone
from qc.records import Asked
from qc.units import TICKS_PER_UM

if TYPE_CHECKING:
    import pandas as pd

    from qc.store import Store

PRODUCT: Final = "qc-engine-shop"
MONTHS: Final = 13  # a year and the month it is held against


def write_to(store: "Store", asked: Asked, place: Path) -> dict[str, Any]:
    """Write the audit pack of a question.

    Parameters
    ----------
    store : Store
    asked : Asked
        Which series the answers are about; the readings of the whole shop are in the pack, since
        stretches, usual
        positions and pooled figures rest on them.
    place : Path

    Returns
    -------
    dict
        The head of an answer with the number of `entries` and the SHA-256 of the `manifest`.

    Raises
    ------
    FileError
        When the place has not the ending .zip or cannot be written.
    """
    if place.suffix.lower() != ".zip":
        raise FileError(f"{place.name}: an audit pack is a .zip: name it so")
    revision = store.revision(asked.as_of)
    tables = content(store, revision)
    answers = answered(store, asked, months(store, asked))
    entries = {**tables, **_answers(answers)}
    head = answers["capability"]
    entries["README.txt"] = _readme(head, place.name)
    entries["manifest.json"] = manifest(entries, head)
    write.whole(archive.content(entries), place)
    return {
        "answer": "audit", "version": 1, "revision": revision, "asked": head["asked"], "zone": head["zone"],
        "cautions": head["cautions"], "file": str(place), "entries": len(entries),
        "manifest": archive.sha256(entries["manifest.json"]),
    }  # fmt: skip


def answered(store: Any, asked: Asked, at: list[str]) -> dict[str, dict[str, Any]]:
    """Every answer that a pack holds, by name; `at` are its months."""
    from qc.reports import capability, charts_by_kind, clearance, drift, month, series

    found = {
        "capability": capability.answer(store, asked), "drift": drift.answer(store, asked),
        "chart": charts_by_kind.answer(store, asked), "clearance": clearance.answer(store, asked),
        "series": series.answer(store, asked),
    }  # fmt: skip
    return found | {f"month-{name}": month.answer(store, name, asked) for name in at}


def months(store: Any, asked: Asked) -> list[str]:
    """The last months in which blocks of the question were made, oldest first."""
    from datetime import UTC, datetime

    from qc.history import history

    found = history(store, asked)
    zone = shop_zone(found.settings)
    times = found.blocks["at"].astype("int64").tolist()
    names = {datetime.fromtimestamp(at // 1_000_000, UTC).astimezone(zone).strftime("%Y-%m") for at in times}
    return sorted(names)[-MONTHS:]


def content(store: "Store", revision: int) -> dict[str, bytes]:
    """The tables and source files of a pack by name."""
    frame = store.readings(Asked(as_of=revision), status="all")
    readings = reading_rows(store, revision)
    texts = {
        "readings.csv": readings_csv(readings),
        "readings_as_stored.csv": packed.stored_csv(frame),
        "bores.csv": bores_csv(store, revision, readings),
        "held.csv": packed.held_csv(store.held(as_of=revision)),
        "findings.csv": _findings(store, revision),
        "voids.csv": _voids(store, frame),
        "revisions.csv": _revisions(store, revision),
    }  # fmt: skip
    for kind, (name, kinds) in packed.FRAMES.items():
        texts[f"{name}.csv"] = packed.frame_csv(store.records(kind, revision), kinds)
    for name, rows in register(store, revision).items():
        columns = list(rows[0]) if rows else records.columns(records.NOUNS[name])
        texts[f"{name}.csv"] = csv.lines(columns, (list(row.values()) for row in rows), exact=True)
    settings = store.settings(revision)
    # a shop without the setting keeps its machine's zone; whoever verifies may keep another
    settings = {**settings, "zone": str(shop_zone(settings))}
    # how notices are sent is no part of any figure
    settings = {name: value for name, value in settings.items() if not name.startswith("mail_")}
    texts["settings.csv"] = csv.lines(["name", "value"], sorted(settings.items()), exact=True)
    return {name: text.encode("utf-8") for name, text in texts.items()} | _files(store, revision)


def register(store: Any, revision: int) -> dict[str, list[dict[str, Any]]]:
    """Specifications, events, gauges, builds, machines and plan in force, numbers exact."""
    found = {
        "specifications": store.specs(revision), "events": store.events(revision),
        "gauges": store.gauges(revision), "plan": store.plan(revision),
        "builds": list(store.builds(revision).values()), "machines": list(store.machines(revision).values()),
    }  # fmt: skip
    return {name: records.exact_rows(rows) for name, rows in found.items()}


def readings_csv(rows: list[dict[str, Any]]) -> str:
    """CSV of every reading with its status."""
    from qc.reports.readings import COLUMNS

    names = [*COLUMNS, "status"]
    return csv.lines(names, ([row[name] for name in names] for row in rows), exact=True)


def reading_rows(store: Any, revision: int) -> list[dict[str, Any]]:
    """Rows of readings.csv: every reading, whatever its status."""
    from qc.reports import readings

    rows: list[dict[str, Any]] = readings.answer(store, Asked(as_of=revision), every=True)["readings"]
    return rows


def bores_csv(store: Any, revision: int, readings: list[dict[str, Any]]) -> str:
    """CSV of the bore values behind charts and indices."""
    from qc.history import history

    known = {row["id"]: row for row in readings if row["status"] != "held"}
    rows = bores.rows(history(store, Asked(as_of=revision)), known)
    return csv.lines(bores.COLUMNS, ([row[name] for name in bores.COLUMNS] for row in rows), exact=True)


def _answers(answers: Mapping[str, dict[str, Any]]) -> dict[str, bytes]:
    out = {}
    for name, answer in answers.items():
        out[f"answers/{name}.json"] = json.text(answer).encode("utf-8")
        out[f"answers/{name}.csv"] = answer_csv(answer).encode("utf-8")
    return out


def answer_csv(answer: Mapping[str, Any]) -> str:
    """CSV of an answer, from which its texts can be had back exactly."""
    columns, rows = table.table(answer)
    return csv.lines(columns, rows, exact=True)


def _files(store: "Store", revision: int) -> dict[str, bytes]:
    files = store.files()
    out = {}
    for row in files[files["revision"] <= revision].to_dict("records"):
        out[f"files/{row['sha256'][:12]}-{sanitised(row['name'])}"] = store.file_content(row["sha256"])
    return out


def sanitised(name: str) -> str:
    """A file's name with what could harm another system replaced."""
    safe = re.sub(r"[^A-Za-z0-9._-]+", "_", name).strip("._") or "file"
    return safe[-100:]


def _findings(store: "Store", revision: int) -> str:
    frame = store.findings(open_only=False, as_of=revision)
    names = (
        "id",
        "file",
        "sha256",
        "severity",
        "code",
        "count",
        "saw",
        "doubt",
        "proposal",
        "effect",
        "decided",
    )
    kinds = {name: "object" if name == "decided" else "str" for name in names}
    return packed.frame_csv(frame, kinds)


def _voids(store: "Store", frame: "pd.DataFrame") -> str:
    voided = frame[frame["voided_in"].notna()]
    said = {row["number"]: row for row in store.revisions().to_dict("records")}
    rows = []
    for row in voided[["id", "text", "value", "characteristic", "voided_in"]].to_dict("records"):
        why = said.get(int(row["voided_in"]), {})
        reason = why.get("reason")
        rows.append([
            row["id"], row["text"], row["value"] / TICKS_PER_UM, int(row["voided_in"]), why.get("by"),
            why.get("command"), reason if isinstance(reason, str) else None,
        ])  # fmt: skip
    columns = ["id", "text", "value_um_or_own", "revision", "by", "command", "reason"]
    return csv.lines(columns, rows, exact=True)


def _revisions(store: "Store", revision: int) -> str:
    frame = store.revisions()
    return packed.frame_csv(frame[frame["number"] <= revision], packed.REVISIONS)


def _readme(head: Mapping[str, Any], name: str) -> bytes:
    asked = json.compact(head["asked"]) if head["asked"] else "everything in the store"
    return auditor.README.format(
        product=PRODUCT, version=__version__, revision=head["revision"], asked=asked, zone=head["zone"],
        name=name,
        of_readings=bores.OF_READINGS,
    ).encode("utf-8")  # fmt: skip


def manifest(entries: Mapping[str, bytes], head: Mapping[str, Any]) -> bytes:
    """The manifest of a pack: what is in it, by SHA-256, and what it was made from."""
    return json.text({
        "product": PRODUCT, "version": __version__, "revision": head["revision"], "asked": head["asked"],
        "zone": head["zone"],
        "files": [
            {"name": name, "sha256": archive.sha256(entries[name]), "bytes": len(entries[name])}
            for name in sorted(entries)
        ],
    }).encode("utf-8")  # fmt: skip

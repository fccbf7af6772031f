"""The demo shop told in a terminal: built from its files, then the four answers in words."""

import tomllib
from collections.abc import Mapping
from datetime import datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final
from zoneinfo import ZoneInfo

import click

from qc.cli.printed import said

if TYPE_CHECKING:
    from qc.store import Store

MARK: Final = "the demo shop, made by qc demo"
BY: Final = "demo"
_SHOWN: Final = 3


def tell(place: Path, files: Path) -> None:
    """Build the demo shop at a place and print its four answers."""
    from qc.store import Store

    with Store.open(place, create=True) as store:
        build(store, files, place)
        click.echo("  working out the answers", err=True)
        answers(store)
    click.echo()
    click.echo(f"Ask it anything else with --store {place}.")


def build(store: "Store", files: Path, place: Path) -> None:
    """Take the demo shop's files in."""
    from qc.ingest.run import ingest

    with store.write(by=BY, command="demo", reason=MARK) as write:
        write.set("zone", _zone(files))
    taken = ingest(store, [files], by=BY, progress=_step, command="demo")
    kept = sum(one.kept for one in taken.files)
    held = sum(one.held for one in taken.files)
    click.echo(
        f"The demo shop: {len(taken.files)} files, {kept} readings and records kept, {held} rows held."
    )
    for one in taken.files:
        if one.held:
            said(f"{one.file}: {one.held} rows wait for a person, on purpose: qc held --store {place}", "  ")


def _zone(files: Path) -> str:
    told = tomllib.loads((files.parent / "dataset.toml").read_text(encoding="utf-8"))
    return str(told.get("zone", "UTC"))


def _step(*told: Any) -> None:
    click.echo("  " + " ".join(str(part) for part in told), err=True)


def answers(store: "Store") -> None:
    """Print the four answers in words."""
    from qc.records import Asked
    from qc.reports import capability, clearance, drift, month

    asked = Asked()
    drifts = drift.answer(store, asked)
    _section("Drift: which machine is leaving its tolerance?", "qc drift")
    _lines([one for one in drifts["matters"] if one["state"] == "open"] or drifts["series"])
    _lines([one for one in drifts["gauges"] if one["to"] is not None])
    last = last_full_month(drifts)
    _section(f"Month: is {last} as consistent as the month before?", f"qc month {last}")
    _lines(month.answer(store, last, asked)["rows"])
    _section("Clearances: did they come out as planned? The tightest first.", "qc clearance")
    fits = clearance.answer(store, asked)
    _lines(fits["engines"][:1])
    _lines(fits["builds"])
    _section(
        "Audit: which figures stand up? The machines' smallest first.", "qc capability; qc audit OUT.zip"
    )
    _lines(_of_machines(capability.answer(store, asked)["series"]))


def _of_machines(rows: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Rows with an index that a machine here has made, the smallest first."""
    made = [row for row in rows if row["machine"] != "bench" and row["operation"] != "check" and _plain(row)]
    whole = [row for row in made if row["ppk"] is not None and row["cpk"] is not None and row["coded"]]
    return sorted(whole or made, key=lambda row: row["ppk"] if row["ppk"] is not None else 0.0)


def _plain(row: Mapping[str, Any]) -> bool:
    return bool(row["window"]) and not row["window"]["scaled"]


def last_full_month(document: Mapping[str, Any]) -> str:
    """The newest month whose last week has a reading, else the month before it."""
    newest = max(datetime.fromisoformat(row["last_at"]) for row in document["series"] if row["last_at"])
    here = newest.astimezone(ZoneInfo(document["zone"]))
    ended = (here + timedelta(days=7)).month != here.month
    shown = here if ended else here.replace(day=1) - timedelta(days=1)
    return f"{shown.year:04d}-{shown.month:02d}"


def _section(question: str, command: str) -> None:
    click.echo()
    click.echo(f"{question}  [{command}]")


def _lines(rows: list[dict[str, Any]]) -> None:
    told = [row["sentence"] for row in rows if row.get("sentence")]
    for sentence in told[:_SHOWN]:
        said(sentence, "  ")
    if len(told) > _SHOWN:
        click.echo(f"  and {len(told) - _SHOWN} more")

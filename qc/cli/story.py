"""The demo shop told in a terminal: built from its files, then the four answers in words."""

import tomllib
from collections.abc import Mapping
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final
from zoneinfo import ZoneInfo

import click

from qc.cli.printed import minus_inside

if TYPE_CHECKING:
    from qc.store import Store

MARK: Final = "the demo shop, made by qc demo"
BY: Final = "demo"
_SHOWN: Final = 3


def tell(place: Path, files: Path) -> None:
    """Build the demo shop at a place and print its four answers."""
    from qc.store import Store

    with Store.open(place, create=True) as store:
        build(store, files)
        answers(store)


def build(store: "Store", files: Path) -> None:
    """Take the demo shop's files in."""
    from qc.ingest.run import ingest

    with store.write(by=BY, command="demo", reason=MARK) as write:
        write.set("zone", _zone(files))
    paths = sorted(path for path in files.rglob("*") if path.is_file() and not path.name.startswith("."))
    taken = ingest(store, paths, by=BY, progress=_step, command="demo")
    kept = sum(one.kept for one in taken.files)
    held = sum(one.held for one in taken.files)
    click.echo(
        f"The demo shop: {len(taken.files)} files, {kept} readings and records kept, {held} rows held."
    )
    for one in taken.files:
        if one.held:
            click.echo(
                f"  {one.file}: {one.held} rows wait for a person (on purpose): qc held --store {store.place}"
            )


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
    urgent = [row for row in drifts["series"] if row["condition"] not in ("steady", "thin")]
    _lines(urgent or drifts["series"])
    last = last_full_month(drifts)
    _section(f"Month: is {last} as consistent as the month before?", f"qc month {last}")
    _lines(month.answer(store, last, asked)["rows"])
    _section("Clearances: did they come out as planned?", "qc clearance")
    _lines(clearance.answer(store, asked)["builds"])
    _section("Audit: which figures stand up?", "qc capability; qc audit OUT.zip")
    _lines(capability.answer(store, asked)["series"])
    click.echo()
    click.echo(f"Ask it anything else with --store {store.place}.")


def last_full_month(document: Mapping[str, Any]) -> str:
    """The month before the newest reading's (that one may still go on)."""
    newest = max(datetime.fromisoformat(row["last_at"]) for row in document["series"] if row["last_at"])
    here = newest.astimezone(ZoneInfo(document["zone"]))
    year, month = (here.year, here.month - 1) if here.month > 1 else (here.year - 1, 12)
    return f"{year:04d}-{month:02d}"


def _section(question: str, command: str) -> None:
    click.echo()
    click.echo(f"{question}  [{command}]")


def _lines(rows: list[dict[str, Any]]) -> None:
    told = [row["sentence"] for row in rows if row.get("sentence")]
    for sentence in told[:_SHOWN]:
        click.echo("  " + minus_inside(sentence))
    if len(told) > _SHOWN:
        click.echo(f"  and {len(told) - _SHOWN} more")

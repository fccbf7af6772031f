"""Each answer as it is read on a terminal: its sentences first, then a small table."""

from collections.abc import Callable, Mapping, Sequence
from typing import Any, Final

import click

from qc.cli import capability_face, chart_face, drift_face, printed
from qc.cli.printed import NOTHING, Shown, bounds, plain, share, span, table

Document = Mapping[str, Any]
FULL_BUILDS: Final = 3
SAID_BUILDS: Final = 10
_NARROW: Final = "narrow it (--machine, --characteristic ...), or take --json or --out"
FAR: Final = 1000  # bores or blocks; beyond it a forecast has no digits worth printing


def names(rows: Sequence[Document]) -> list[str]:
    """Series in the words of the filters, without what goes without saying.

    Left out are the method that a blank means, and the operation of a machine that does only one here.
    """
    from qc.catalogue import CATALOGUE

    operations: dict[str, set[str]] = {}
    for row in rows:
        operations.setdefault(row["machine"], set()).add(row["operation"])
    told = []
    for row in rows:
        entry = CATALOGUE.get(row["characteristic"])
        usual = entry is not None and entry.methods[0] == row["method"]
        operation = row["operation"] if len(operations[row["machine"]]) > 1 else ""
        words = (
            row["machine"],
            operation,
            row["characteristic"],
            "" if usual else row["method"],
            row["state"],
        )
        told.append(" ".join(word for word in words if word and word != "unstated"))
    return told


def _more(shown: int, of: int, what: str) -> None:
    if of > shown:
        click.echo(f"  and {of - shown} more {what}: {_NARROW}")


def series(document: Document, how: Shown) -> None:
    """Print the series in the store."""
    rows = document["series"]
    click.echo(f"{len(rows)} series at revision {document['revision']}.")
    table(
        ("series", "readings", "blocks", "from", "to", "condition"),
        [
            (name, plain(r["readings"]), plain(r["blocks"]), how.day(r["first_at"]), how.day(r["last_at"]),
             r["condition"] or NOTHING)
            for name, r in zip(names(rows), rows, strict=True)
        ],
    )  # fmt: skip


def drift(document: Document, how: Shown) -> None:
    """Print what leaves its tolerance, most urgent first; the rest folds into one line."""
    rows = document["series"]
    for one in document["matters"]:
        if one["state"] == "open":
            printed.sentences([one])
            _hands(one, document["zone"])
    printed.sentences([g for g in document["gauges"] if g["to"] is not None])
    counts = {word: sum(r["condition"] == word for r in rows) for word in ("steady", "thin")}
    click.echo(f"{counts['steady']} steady, {counts['thin']} too few blocks to say.")
    budget = document["alarm_level"]
    click.echo(
        f"About {budget['false_alarms_a_month']:.2g} false matters a month at this level "
        f"({budget['level']:.2g} a series and block, {budget['blocks_a_month']:.0f} blocks a month)."
    )
    ahead = [r for r in rows if r["bores_to_limit"] and r["bores_to_limit"].get("median") is not None]
    table(
        ("series", "condition", "since", "left to the limit"),
        [
            (name, r["condition"], how.day((r["since"] or {}).get("at")), _left(r["bores_to_limit"]))
            for name, r in zip(names(ahead), ahead, strict=True)
        ],
        left=2,
    )
    drift_face.beneath(rows, names(rows))


def _hands(one: Document, zone: str) -> None:
    from qc.cli import matters

    click.echo(f"  {one['id']}")
    matters.lines(one, zone)


def _left(ahead: Document) -> str:
    if ahead["median"] > FAR:
        return f"over {FAR} {ahead['of']}"
    upper = ahead["upper"]
    within = {"lower": ahead["lower"], "upper": None if upper is None or upper > FAR else upper}
    return f"{plain(ahead['median'], 0)} ({bounds(within, 0)}) {ahead['of']}"


def month(document: Document, how: Shown) -> None:
    """Print this month beside the last one: machine by machine a sentence and its figures."""
    for row in document["rows"]:
        printed.sentences([row])
        _first_time(row.get("first_pass"))
        table(
            ("figure", "unit", "blocks", "mean", "in block", "block to block", "against last month"),
            [
                (f"{f['characteristic']} {f['method']}", how.unit(f), plain(f["blocks"]),
                 how.number(f["mean"], f), how.number(f["spread_in_block"], f),
                 how.number(f["spread_between_blocks"], f), _against(f))
                for f in row["figures"]
            ],
            left=2,
        )  # fmt: skip
        click.echo()
    if not document["rows"]:
        click.echo(f"No machine worked in {document['month']}.")


def _against(figure: Document) -> str:
    words = (figure["against"].get("last_month") or {}).get("words") or NOTHING
    return str(words).partition(":")[0]


def _first_time(first: Document | None) -> None:
    if first and first.get("of"):
        sure = first["interval"]
        interval = f", {span(share(sure['lower']), share(sure['upper']))}" if sure else ""
        told = f"{first['n']} of {first['of']} builds ({share(first['fraction'])}{interval})"
        click.echo(f"  Right first time: {told}.")


def clearance(document: Document, how: Shown) -> None:
    """Print planned and achieved clearances, tightest against its lower limit first."""
    builds = document["builds"]
    for build in builds[:FULL_BUILDS]:
        printed.sentences([build])
        table(
            ("position", "clearance", "unit", "planned", "limits", "achieved", "off plan", "+-", "verdict"),
            [
                (p["feature"], f"{p['characteristic']} {p['method']}", how.unit(p),
                 how.number(p["planned"], p), span(how.number(p["lower"], p), how.number(p["upper"], p)),
                 how.number(p["achieved"], p), how.number(p["off_plan"], p),
                 how.number(p["standard_uncertainty"], p), (p["verdict"] or NOTHING).replace("_", " "))
                for p in build["positions"]
            ],
            left=2,
        )  # fmt: skip
        click.echo()
    printed.sentences(builds[FULL_BUILDS:SAID_BUILDS])
    _more(SAID_BUILDS, len(builds), "builds")
    if not builds:
        click.echo("No build with a clearance: the parts of one are a bore and what runs in it.")


def build(document: Document, how: Shown) -> None:
    """Print the sheet of one build: what is missing, then every judged quantity."""
    printed.sentences([document])
    for missing in document["missing"]:
        printed.said(f"Missing: {missing}", "  ")
    table(
        ("position", "quantity", "state", "unit", "value", "limits", "verdict"),
        [
            (q["feature"], f"{q['characteristic']} {q['method']}", q["state"], how.unit(q),
             how.number(q["value"], q), span(how.number(q["lower"], q), how.number(q["upper"], q)),
             (q["verdict"] or NOTHING).replace("_", " "))
            for q in document["quantities"]
        ],
        left=3,
    )  # fmt: skip


FACES: Final[Mapping[str, Callable[[Document, Shown], None]]] = {
    "series": series, "drift": drift, "capability": capability_face.capability, "month": month,
    "clearance": clearance, "chart": chart_face.chart, "build": build,
    "backtest": drift_face.backtest,
}  # fmt: skip

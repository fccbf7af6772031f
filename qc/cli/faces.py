"""Each answer as it is read on a terminal: its sentences first, then a small table."""

from collections.abc import Callable, Mapping
from typing import Any, Final

import click

from qc.cli import printed
from qc.cli.printed import NOTHING, Shown, bounds, plain, share, table

Document = Mapping[str, Any]
LAST_BLOCKS: Final = 12


def series(document: Document, how: Shown) -> None:
    """Print the series in the store."""
    rows = document["series"]
    click.echo(f"{len(rows)} series at revision {document['revision']}.")
    table(
        ("series", "readings", "blocks", "from", "to", "condition"),
        [
            (r["id"], plain(r["readings"]), plain(r["blocks"]), how.day(r["first_at"]), how.day(r["last_at"]),
             r["condition"] or NOTHING)
            for r in rows
        ],
    )  # fmt: skip


def drift(document: Document, how: Shown) -> None:
    """Print what leaves its tolerance, most urgent first; the rest folds into one line."""
    rows = document["series"]
    urgent = [r for r in rows if r["condition"] not in ("steady", "thin")]
    printed.sentences(urgent)
    counts = {word: sum(r["condition"] == word for r in rows) for word in ("steady", "thin")}
    click.echo(f"{counts['steady']} steady, {counts['thin']} too few blocks to say.")
    ahead = [r for r in rows if r["bores_to_limit"] and r["bores_to_limit"].get("median") is not None]
    table(
        ("series", "condition", "since", "slope", "unit", "left", "of"),
        [
            (r["id"], r["condition"], how.day((r["since"] or {}).get("at")), _slope(r, how), how.unit(r),
             _left(r["bores_to_limit"]), r["bores_to_limit"]["of"])
            for r in ahead
        ],
    )  # fmt: skip


def _slope(row: Document, how: Shown) -> str:
    value = row["slope"]
    if not isinstance(value, int | float):
        return NOTHING
    per = 100 if row.get("slope_per") == "bore" else 1
    return f"{how.number(value * per, row)}/{'100 bores' if per == 100 else 'block'}"


def _left(ahead: Document) -> str:
    return f"{plain(ahead['median'], 0)} ({bounds(ahead, 0)})"


def capability(document: Document, how: Shown) -> None:
    """Print what a series holds, with its interval; indices only where there are blocks enough."""
    printed.sentences(document["series"])
    rows = [r for r in document["series"] if r["bores"]]
    table(
        ("series", "unit", "window", "blocks", "bores", "mean", "all", "Ppk", "from - to"),
        [
            (r["id"], how.unit(r), _window(r, how), plain(r["blocks"]), plain(r["bores"]),
             how.number(r["mean"], r), how.number(r["spread_all"], r), plain(r["ppk"]),
             bounds(r["ppk_interval"]))
            for r in rows
        ],
        left=3,
    )  # fmt: skip


def _window(row: Document, how: Shown) -> str:
    window = row["window"]
    if not window:
        return "none"
    return printed.span(how.number(window["lower"], row), how.number(window["upper"], row))


def month(document: Document, how: Shown) -> None:
    """Print this month beside the last one, a line a machine and figure."""
    printed.sentences(document["rows"])
    table(
        ("machine, operation", "figure", "unit", "blocks", "mean", "in block", "against last month"),
        [
            (f"{r['machine']}, {r['operation']}", f"{f['characteristic']} {f['method']}", how.unit(f),
             plain(f["blocks"]), how.number(f["mean"], f), how.number(f["spread_in_block"], f),
             (f["against"].get("last_month") or {}).get("words") or NOTHING)
            for r in document["rows"]
            for f in r["figures"]
        ],
        left=3,
    )  # fmt: skip
    for row in document["rows"]:
        first = row.get("first_pass")
        if first and first.get("of"):
            click.echo(
                f"  {row['machine']}, {row['operation']}: right first time {first['n']} of {first['of']} "
                f"builds ({share(first['fraction'])}, {_percent(first['interval'])})"
            )


def _percent(interval: Document | None) -> str:
    return printed.span(share(interval["lower"]), share(interval["upper"])) if interval else NOTHING


def clearance(document: Document, how: Shown) -> None:
    """Print planned and achieved clearances, tightest against its lower limit first."""
    for build in document["builds"]:
        printed.sentences([build])
        printed.sentences([p for p in build["positions"] if p.get("verdict") not in ("conforms", None)][:3])
        table(
            ("position", "clearance", "unit", "planned", "limits", "achieved", "off plan", "+-", "verdict"),
            [
                (p["feature"], f"{p['characteristic']} {p['method']}", how.unit(p),
                 how.number(p["planned"], p),
                 printed.span(how.number(p["lower"], p), how.number(p["upper"], p)),
                 how.number(p["achieved"], p), how.number(p["off_plan"], p),
                 how.number(p["standard_uncertainty"], p), (p["verdict"] or NOTHING).replace("_", " "))
                for p in build["positions"]
            ],
            left=2,
        )  # fmt: skip
        click.echo()
    if not document["builds"]:
        click.echo("No build with a clearance: the parts of one are a bore and what runs in it.")


def chart(document: Document, how: Shown) -> None:
    """Print the last blocks of each series between its limits."""
    for row in document["series"]:
        printed.sentences([row])
        limits = printed.span(how.number(row["lower_limit"], row), how.number(row["upper_limit"], row))
        phase = (row.get("limits") or {}).get("phase", "")
        click.echo(
            f"{row['id']}: center {how.number(row['center'], row)} {how.unit(row)}, "
            f"limits for block means {limits}" + (f" ({phase.replace('_', ' ')})" if phase else "")
        )
        blocks = row["blocks"]
        if len(blocks) > LAST_BLOCKS:
            click.echo(f"  the last {LAST_BLOCKS} of {len(blocks)} blocks; all of them with --json or --out")
        table(
            ("block", "day", "bores", "mean", "spread", "lowest", "highest", "signal"),
            [
                (b["build"], how.day(b["at"]), plain(b["n"]), how.number(b["mean"], row),
                 how.number(b["spread"], row), how.number(b["lowest"], row), how.number(b["highest"], row),
                 _signals(b["signals"]))
                for b in blocks[-LAST_BLOCKS:]
            ],
        )  # fmt: skip
        click.echo()


def _signals(signals: list[Any]) -> str:
    words = [s.get("words") or s.get("signal") or "" if isinstance(s, Mapping) else str(s) for s in signals]
    return "; ".join(w for w in words if w)


FACES: Final[Mapping[str, Callable[[Document, Shown], None]]] = {
    "series": series, "drift": drift, "capability": capability, "month": month, "clearance": clearance,
    "chart": chart,
}  # fmt: skip

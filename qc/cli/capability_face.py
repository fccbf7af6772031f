"""Capability as it is read on a terminal: sentences, a table, and under few rows each figure in words."""

from collections.abc import Mapping, Sequence
from typing import Any, Final

import click

from qc.cli import printed
from qc.cli.printed import NOTHING, Shown, bounds, plain, span, table

Document = Mapping[str, Any]
MOST_ROWS: Final = 16  # of a table below the sentences that say the same
MOST_EXPLAINED: Final = 3  # rows whose figures are explained one by one
NARROW: Final = "narrow it (--machine, --characteristic ...), or take --json or --out"
TITLES: Final[Mapping[str, str]] = {
    "tolerance_interval": "What most bores lie in", "ppk": "Ppk", "pp": "Pp", "cpk": "Cpk",
    "to_prove": "To prove it", "inside_one_block": "Inside one block", "gauge_free": "Without the gauge",
    "outside": "Beyond the limits", "family": "Shape", "reworked": "Reworked",
    "with_excluded": "With what was kept out",
}  # fmt: skip


def capability(document: Document, how: Shown) -> None:
    """Print what a series holds, with its interval; indices only where there are blocks enough."""
    from qc.cli.faces import names

    printed.sentences(document["series"])
    rows = [r for r in document["series"] if r["bores"]]
    if len(rows) > MOST_ROWS:
        click.echo(f"  their figures: {NARROW}")
        return
    table(
        ("series", "window", "blocks", "mean", "all", "Ppk", "to read"),
        [
            (name, _window(r, how), plain(r["blocks"]), how.number(r["mean"], r),
             how.number(r["spread_all"], r), _index(r), _to_prove(r))
            for name, r in zip(names(rows), rows, strict=True)
        ],
        left=2,
    )  # fmt: skip
    if len(rows) > MOST_EXPLAINED:
        click.echo()
        _doubts(rows, names(rows))
        click.echo(f"  each figure in words: {NARROW}")
        return
    for row in rows:
        _in_words(row, len(rows) > 1)


def _doubts(rows: Sequence[Document], called: Sequence[str]) -> None:
    """Print what makes rows less sure than they look, one line a doubt with the series it is about."""
    found: dict[str, list[str]] = {}
    for row, name in zip(rows, called, strict=True):
        for text in row["warnings"]:
            found.setdefault(str(text), []).append(name)
    for text, whose in found.items():
        printed.said(f"{', '.join(dict.fromkeys(whose))}: {text}", "  ")


def _in_words(row: Document, several: bool) -> None:
    click.echo()
    if several:
        printed.said(str(row["sentence"]).partition(": ")[0] + ":")
    few = not row["explained"].get("cpk") and row["blocks"] < 20  # noqa: PLR2004  as the answer's own words
    order = TITLES if few else dict(sorted(TITLES.items(), key=lambda item: item[0] == "tolerance_interval"))
    for name, title in order.items():
        if name in row["explained"]:
            printed.said(f"{title}: {' '.join(row['explained'][name])}", "  ")
    missing: dict[str, list[str]] = {}
    for name, why in row["not_given"].items():
        missing.setdefault(str(why), []).append(name.replace("_", " "))
    for why, whose in missing.items():
        printed.said(f"Not given ({', '.join(whose)}): {why}.", "  ")


def _to_prove(row: Document) -> str:
    found = row["to_prove"]
    return NOTHING if not found else plain(found["needed"])


def _index(row: Document) -> str:
    return NOTHING if row["ppk"] is None else f"{plain(row['ppk'])} ({bounds(row['ppk_interval'])})"


def _window(row: Document, how: Shown) -> str:
    window = row["window"]
    if not window:
        return "none"
    return f"{span(how.number(window['lower'], row), how.number(window['upper'], row))} {how.unit(row)}"

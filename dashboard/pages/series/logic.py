"""What the Series page shows, from the answers."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from dashboard.answers import Answers, Question
from dashboard.components import address
from dashboard.theme.shown import Shown, day, in_units, interval, many, number, quantity, shown, spread
from qc.catalogue import CATALOGUE
from qc.reports import picture

Row = Mapping[str, Any]
ENOUGH = 20  # blocks from which an index leads


@dataclass(frozen=True, slots=True)
class Told:
    """Everything about one series: its rows of four answers, how its unit is shown, the picture's numbers."""

    head: Row
    chart: Row
    drift: Row | None
    capability: Sequence[Row]
    how: Shown
    units: str
    zone: str
    ribbon: picture.Ribbon
    document: Row

    @property
    def main(self) -> Row | None:
        """The capability row of the limits used last, which stands first."""
        return self.capability[0] if self.capability else None

    @property
    def coded(self) -> bool:
        """Whether heights are distances from a target."""
        return bool(self.chart.get("coded"))


def narrowed(asked: Question) -> dict[str, tuple[str, ...]]:
    """The filters alone, without the page's own words."""
    return {k: v for k, v in asked.items() if k not in address.OWN}


def told(answers: Answers, asked: Question) -> Told | Sequence[Row]:
    """One series, or the heads of all that fit."""
    question = narrowed(asked)
    heads = answers.series(question)["series"]
    if len(heads) != 1:
        return list(heads)
    only = {key: (heads[0][key],) for key in address.IDENTITY}
    exact = {**question, **only}
    document = answers.chart(exact)
    bare = {**heads[0], "blocks": []}  # everything of it is held or incomplete: there is nothing to draw yet
    chart = next((r for r in document["series"] if r["id"] == heads[0]["id"]), bare)
    drift = next((r for r in answers.drift(exact)["series"] if r["id"] == chart["id"]), None)
    capability = [r for r in answers.capability(exact)["series"] if r["id"] == chart["id"]]
    how = shown(chart["unit"], answers.units(), chart["characteristic"])
    ribbon = picture.ribbon(
        chart,
        drift,
        uncertainty=answers.uncertainty(chart.get("gauges") or ()) if chart["unit"] == "um" else None,
        by="date" if address.one(asked, "by") == "date" else "bores",
    )
    return Told(heads[0], chart, drift, capability, how, answers.units(), answers.zone(), ribbon, document)


def span(row: Row, zone: str) -> str:
    """`288 readings of 96 bores in 12 blocks, 3 Feb 2026 to 25 May 2026; read with bg-1`."""
    unit = CATALOGUE[row["characteristic"]].sampled_by if row["characteristic"] in CATALOGUE else "bore"
    parts = [many(row["readings"], "reading")]
    if row.get("features"):
        parts.append(f"of {many(row['features'], unit)}")
    parts.append(f"in {many(row['blocks'], 'block')}")
    text = " ".join(parts)
    if row.get("first_at"):
        first, last = day(row["first_at"], zone), day(row["last_at"], zone)
        text += f", {first}" + (f" to {last}" if last != first else "")
    if row.get("gauges"):
        text += "; read with " + ", ".join(row["gauges"])
    return text


def left_out(row: Row) -> str:
    """`left out: 2 held, 1 voided`, empty when nothing is."""
    found = row.get("left_out") or {}
    parts = [f"{count} {key.replace('_', ' ')}" for key, count in found.items() if count]
    return "left out: " + ", ".join(parts) if parts else ""


def tolerance_words(row: Row, how: Shown, coded: bool) -> str:
    """The tolerance interval in words, against the limits."""
    found = row.get("tolerance_interval")
    if not found:
        return ""
    content, sure = (f"{100 * found[key]:.0f}\N{NO-BREAK SPACE}%" for key in ("content", "confidence"))
    text = f"{content} of bores lie {_between(found, how, coded)} ({sure} sure)"
    window = row.get("window")
    return text + (f"; {_limits(window, how, coded)}." if window else ".")


def _ends(found: Row, how: Shown, coded: bool) -> tuple[str, str]:
    lower, upper = (quantity(found.get(key), how, sign=coded, unit=False) for key in ("lower", "upper"))
    return lower, upper


def _between(found: Row, how: Shown, coded: bool) -> str:
    """`from -3.1 to 4.4 um`, `at or under 0.32 um`, `at or over 20.0 um`."""
    lower, upper = _ends(found, how, coded)
    if found.get("lower") is None:
        return f"at or under {upper} {how.words}"
    if found.get("upper") is None:
        return f"at or over {lower} {how.words}"
    return f"from {lower} to {upper} {how.words}"


def _limits(window: Row, how: Shown, coded: bool) -> str:
    """`the limits are -8.0 and 8.0`, `the upper limit is 0.32`."""
    lower, upper = _ends(window, how, coded)
    if window.get("lower") is None:
        return f"the upper limit is {upper}"
    if window.get("upper") is None:
        return f"the lower limit is {lower}"
    return f"the limits are {lower} and {upper}"


def index_words(row: Row, key: str) -> str:
    """`1.34 (1.12 to 1.61)`."""
    value = row.get(key)
    if value is None:
        return ""
    between = interval(row.get(f"{key}_interval"), 2)
    return number(value, 2) + (f" ({between})" if between else "")


def spreads(row: Row, how: Shown) -> list[tuple[str, str]]:
    """The spreads that are given, in everyday words."""
    named = [
        ("bore to bore in one block", "spread_in_block"),
        ("block to block", "spread_between_blocks"),
        ("block means", "spread_of_block_means"),
        ("all together", "spread_all"),
        ("short term", "spread_short"),
    ]
    return [(words_, spread(row[key], how)) for words_, key in named if row.get(key) is not None]


def percent(found: Row | None, decimals: int = 1) -> str:
    """`0.4 % (0.0 to 2.3 %)` of a fraction with its interval."""
    if not found or found.get("fraction") is None:
        return ""
    between = interval(found.get("interval"), decimals, 100)
    return f"{number(100 * found['fraction'], decimals)}\N{NO-BREAK SPACE}%" + (
        f" ({between}\N{NO-BREAK SPACE}%)" if between else ""
    )


def outside(row: Row) -> list[tuple[str, str]]:
    """Counted and predicted share outside."""
    found = row.get("outside") or {}
    counted, predicted = found.get("counted"), found.get("predicted")
    pairs: list[tuple[str, str]] = []
    if counted and counted.get("of") is not None:
        pairs += [("counted outside", f"{counted['n']} of {counted['of']}"), ("as a share", percent(counted))]
    if predicted and predicted.get("fraction") is not None:
        pairs.append(("predicted outside", percent(predicted, 2)))
    return pairs


def reasons(row: Row) -> list[tuple[str, str]]:
    """Why each missing figure is missing."""
    return [(key.replace("_", " "), str(why)) for key, why in (row.get("not_given") or {}).items()]


def blocks(told_: Told) -> list[tuple[str, list[str]]]:
    """Rows of the block table, newest first: (build, cells)."""
    how, sign = told_.how, told_.coded

    def height(value: float | None) -> str:
        return quantity(value, how, sign=sign, unit=False)

    return [
        (
            dot.build,
            [
                day(dot.at, told_.zone),
                str(dot.bores),
                height(dot.mean),
                height(dot.lowest),
                height(dot.highest),
                spread(dot.spread, how, unit=False),
                ", ".join(dot.gauges),
                dot.words,
            ],
        )
        for dot in reversed(told_.ribbon.dots)
    ]


def signals(row: Row | None, zone: str, units: str) -> list[str]:
    """What was seen over the series' life, newest first."""
    found = sorted((row or {}).get("signals") or (), key=lambda s: s.get("at") or "", reverse=True)
    told = []
    for signal in found:
        where = f", {signal['build']}" if signal.get("build") else ""
        words_ = in_units(str(signal.get("words") or signal.get("signal")), units)
        told.append(f"{day(signal.get('at'), zone)}{where}: {words_}")
    return told

"""What a series holds of its tolerance: under 20 blocks the tolerance interval leads, above the index."""

from collections.abc import Mapping
from typing import Any

from dash import html
from dash.development.base_component import Component

from dashboard.components import words
from dashboard.components.plain import Children, facts, fold, picture, table
from dashboard.figures import scales
from dashboard.pages.series import logic
from dashboard.theme.shown import in_units, interval, many, number, quantity, shown, spread
from qc.reports import picture as numbers

Row = Mapping[str, Any]
TITLES = {
    "tolerance_interval": "What most bores lie in", "ppk": "Ppk", "pp": "Pp", "cpk": "Cpk and Cp",
    "to_prove": "Proving it", "inside_one_block": "Inside one block", "gauge_free": "The gauge taken out",
    "outside": "Beyond the limits", "reworked": "Reworked", "with_excluded": "With what was kept out",
}  # fmt: skip
_NAMES = {"ppk": "Ppk", "pp": "Pp", "cpk": "Cpk", "cp": "Cp"}


def _indices(row: Row) -> list[Component]:
    found: list[Component] = []
    for key, name in _NAMES.items():
        scale = numbers.index(row, key)
        if scale is None:
            continue
        said = logic.index_words(row, key)
        found.append(
            html.Div(
                [
                    html.Span(name, className="index-name"),
                    html.Span(said, className="index-value", id=f"index-{key}"),
                    picture(
                        scales.index_scale(scale, wanted=_wanted(row) if key == "ppk" else None),
                        f"{name} {said}",
                        "scale",
                    ),
                ],
                className="index",
            )
        )
    return found


def _wanted(row: Row) -> float | None:
    found = (row.get("to_prove") or {}).get("wanted")
    return None if found is None else float(found)


def _in_words(told: logic.Told, row: Row) -> Component | None:
    """Each figure in words: what it says, how sure, what not to conclude."""
    explained = row.get("explained") or {}
    parts: list[Children] = []
    for key, title in TITLES.items():
        if key in explained:
            said = [in_units(text, told.units, told.chart["characteristic"]) for text in explained[key]]
            parts += [html.H3(title), *[html.P(text) for text in said]]
    words_ = "Each figure in words: what it says, how sure, what not to conclude"
    return fold(words_, parts, "in-words", id="in-words") if parts else None


def _beside(told: logic.Told, row: Row) -> list[tuple[str, Children]]:
    """Figures that stand beside the indices and are none of them."""
    pairs: list[tuple[str, Children]] = []
    proof, free, inside = (row.get(key) for key in ("to_prove", "gauge_free", "inside_one_block"))
    if proof:
        must = f"Ppk {number(proof['needed'], 2)} must be read from {many(proof['blocks'], 'block')}"
        pairs.append((f"to prove {number(proof['wanted'], 2)}", must))
    if free:
        both = f"Ppk {number(free['ppk'], 2)}, spread {spread(free['spread_all'], told.how)}"
        pairs.append(("gauge taken out", both))
    if inside:
        pairs.append(("inside one block only", number(inside["nearer"], 2)))
    kept_out = row.get("with_excluded")
    if kept_out and kept_out.get("ppk") is not None:
        pairs.append(
            ("with what was kept out", f"Ppk {number(kept_out['ppk'], 2)}, {many(kept_out['bores'], 'bore')}")
        )
    return pairs


def _interval(told: logic.Told, row: Row) -> list[Children]:
    scale = numbers.window(row)
    if scale is None:
        return []
    said = logic.tolerance_words(row, told.how, told.coded)
    return [html.P(said, id="tolerance-words"), picture(scales.tolerance(scale), said, "scale")]


def _spreads(told: logic.Told, row: Row) -> list[Children]:
    found = logic.spreads(row, told.how)
    parts = numbers.spread_parts(row)
    bar = (
        picture(
            scales.parts_of_spread(*parts),
            "Share of the variance in one block and from block to block",
            "scale",
        )
        if parts
        else None
    )
    words_ = (
        html.P(
            f"{100 * parts[0]:.0f} % of the variance inside a block, {100 * parts[1]:.0f} % between blocks",
            className="small",
        )
        if parts
        else None
    )
    return [html.H3("Spread"), bar, words_, facts(found)]


def _counts(told: logic.Told, row: Row) -> Component:
    pairs: list[tuple[str, Children]] = [
        ("mean", quantity(row.get("mean"), told.how, sign=told.coded) if row.get("mean") is not None else ""),
        *logic.outside(row),
    ]
    for key, name in (
        ("bores_not_conforming", "do not conform"),
        ("bores_undecided", "the gauge cannot tell"),
        ("reworked", "reworked after the first pass"),
    ):
        if row.get(key) is not None:
            pairs.append((name, many(row[key], "bore")))
    return html.Div([html.H3("Against the limits"), facts(pairs)])


def _windows(told: logic.Told) -> Component | None:
    if len(told.capability) < 2:
        return None
    rows: list[list[Children]] = []
    for row in told.capability:
        window = row.get("window") or {}
        how = shown(row["unit"], "metric") if row["unit"] == "share" else told.how
        limits = (
            "in shares of the tolerance"
            if window.get("scaled")
            else (
                f"{interval(window, how.decimals, how.factor, sign=told.coded)} {how.words}"
                if window
                else "no limits"
            )
        )
        rows.append(
            [
                limits,
                str(row["blocks"]),
                str(row.get("bores", "")),
                logic.index_words(row, "ppk") or "\N{EN DASH}",
                number(row.get("spread_all") and row["spread_all"] * how.factor, how.decimals),
            ]
        )
    head: list[Children] = ["limits in force", "blocks", "bores", "Ppk", "spread, all together"]
    return fold(f"{len(rows)} sets of limits", table(head, rows))


def capability(told: logic.Told) -> Component | None:
    """The capability part of the page."""
    row = told.main
    if row is None:
        return None
    few = row["blocks"] < logic.ENOUGH
    indices, why = _indices(row), logic.reasons(row)
    lead: list[Children] = _interval(told, row)
    if few and indices:
        lead.append(fold(f"Indices: {many(row['blocks'], 'block')}, too few blocks for an index", indices))
    elif not few:
        lead = [*indices, *lead]
    missing = fold("What is not given, and why", facts(why)) if why else None
    warned = [html.P(text, className="small") for text in row.get("warnings") or ()]
    lead += [facts(_beside(told, row)), *warned]
    return html.Section(
        [
            html.H2("Against its tolerance"),
            html.P(
                words.sentence(row, told.units)[1] or words.sentence(row, told.units)[0], className="lead"
            ),
            html.Div([html.Div(lead), html.Div(_spreads(told, row)), _counts(told, row)], className="thirds"),
            _in_words(told, row),
            missing,
            _windows(told),
        ],
        id="capability",
    )

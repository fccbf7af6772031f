"""The chart of a series in another kind, what each kind says, and the five questions."""

from collections.abc import Mapping
from typing import Any, Final

import dash_mantine_components as dmc
from dash import dcc, html
from dash.development.base_component import Component

from dashboard import ids
from dashboard.answers import Answers, Question
from dashboard.components import address, words
from dashboard.components.plain import Children, fold, how_computed, named
from dashboard.figures import strip as drawn
from dashboard.pages.series import choosing, logic
from dashboard.theme.drawing import CONFIG
from dashboard.theme.shown import in_units
from qc.reports import strip as numbers
from qc.reports.words import capital, whole

Row = Mapping[str, Any]
_NOTHING: Final[Row] = {
    "blocks": [], "explained": ["This machine has not what a chart of this kind needs."], "chosen": None,
    "sentence": "", "questions": [], "methods": None,
}  # fmt: skip
_OFF: Final[Mapping[str, str]] = {
    "multivariate": "T2", "first_pass": "share of builds", "scrap": "share of bores",
    "ewma": "running average", "cusum": "sum", "spread": "spread", "short_run": "spreads off its family",
}  # fmt: skip


def row_of(answers: Answers, told: logic.Told, asked: Question) -> Row | None:
    """The series' row in the kind that the address names, else in the kind chosen for it.

    Of a kind about the whole work of a machine, that of its machine, operation and state.
    """
    kind, whole = address.one(asked, "kind"), ("machine", "operation", "state")
    several = kind in choosing.SEVERAL
    exact = {**logic.narrowed(asked), **{key: (told.head[key],) for key in address.IDENTITY}}
    if several:
        exact = {k: v for k, v in exact.items() if k not in ("characteristic", "method", "feature", "gauge")}
    document = answers.kinds(exact, kind if several or kind in choosing.KINDS else None)
    names = whole if several else ("id",)
    row = next((r for r in document["series"] if all(r[n] == told.head[n] for n in names)), None)
    budget = (document.get("alarm_level") or {}).get("words")
    if row is None:
        return None if not several else {**_NOTHING, "kind": kind}
    return {**row, "alarm_words": budget}


def _pick(present: str) -> Component:
    every = {**choosing.KINDS, **choosing.SEVERAL}
    select: Component = dmc.Select(
        id=ids.SERIES_KIND, data=[{"value": v, "label": t} for v, t in every.items()],
        value=present, name=present, allowDeselect=False, size="md", className="pick",
        **named("Kind of chart"),
    )  # fmt: skip
    return select


def _figure(told: logic.Told, row: Row) -> Children:
    several = row["kind"] in choosing.SEVERAL
    if several and not row["blocks"]:
        return None
    places = numbers.own_places(row) if several else told.ribbon
    strip = numbers.strip(row, places)
    if strip is None:
        return None
    unit = words.height(told.chart, told.how.words) if row["kind"] in numbers.SIZED else told.how.words
    off = _OFF.get(row["kind"], "block means")
    plain = row["kind"] not in numbers.IN_UNIT
    figure = drawn.figure(strip, places, told.how, told.zone, off if plain else f"{off}, {unit}")
    return dcc.Graph(
        id=ids.SERIES_STRIP, figure=figure, config=CONFIG, responsive=True,
        style={"height": f"{drawn.HEIGHT}px"},
    )  # fmt: skip


def _question(one: Row, asked: Question) -> Component:
    if one["off"]:
        return html.Li([html.B(f"{capital(str(one['words']))}? "), f"Not asked: {one['off']}."])
    blocks = one["blocks"]
    seen = "No." if not blocks else (
        f"Yes, {len(blocks)} times, last at {blocks[-1]}." if len(blocks) > 1 else f"Yes, at {blocks[0]}."
    )  # fmt: skip
    rule = f"Rule: {one['rule']}. {whole(one['tie'])} Source: {one['source']}."
    often = whole(one["run_length"])
    links = [
        dcc.Link(choosing.KINDS[kind], href=address.SERIES + address.search({**asked, "kind": (kind,)}))
        for kind in one.get("charts") or ()
        if kind in choosing.KINDS
    ]
    see = html.P(["See it in: ", *[part for link in links for part in (link, "; ")][:-1], "."])
    return html.Li([
        html.B(f"{capital(str(one['words']))}? "), seen,
        fold("which rule, how often it errs", [html.P(rule), html.P(often), see if links else None], "rule"),
    ])  # fmt: skip


def section(answers: Answers, told: logic.Told, asked: Question) -> Component | None:
    """The chart's kind, its picture where it is no ribbon, its words and questions."""
    row = row_of(answers, told, asked) if told.chart["blocks"] else None
    if row is None:
        return None
    system, kind = told.units, row.get("kind") or "block_means"
    said = [in_units(text, system, told.chart["characteristic"]) for text in row.get("explained") or ()]
    key = [str(told.head[k]) for k in address.IDENTITY]
    chosen = row.get("chosen")
    present = chosen["value"] if chosen else choosing.USUAL
    options = [(choosing.USUAL, "the usual one: block means"), *choosing.KINDS.items()]
    budget = row.get("alarm_words")
    headline = ("", str(row["sentence"])) if kind in choosing.SEVERAL else words.sentence(row, system)
    return html.Section(
        [
            html.H2("Chart"),
            html.Div([_pick(kind)], className="tools"),
            html.P(headline[1] or headline[0], className="lead") if kind != "block_means" else None,
            _figure(told, row),
            *[html.P(text) for text in said],
            html.P(budget, className="small") if budget else None,
            html.H3("Five questions") if row.get("questions") else None,
            html.Ul([_question(one, asked) for one in row.get("questions") or ()], className="questions"),
            choosing.form("chart", "Choose the kind of chart for this series", options, present, key),
            how_computed({"this chart": row.get("methods")}),
        ],
        id="kind",
    )

"""The Month page: is this month's work as consistent as last month's, on each machine?"""

from collections.abc import Mapping
from typing import Any

import dash_mantine_components as dmc
from dash import dcc, html
from dash.development.base_component import Component

from dashboard import ids
from dashboard.answers import Answers, Question
from dashboard.components import address
from dashboard.components.plain import Children, cautions, how_computed, marked, named, picture, view
from dashboard.components.words import headline
from dashboard.figures import ribbon_drawn
from dashboard.pages.month import logic
from dashboard.pages.series.logic import narrowed
from dashboard.theme.shown import Shown, day, in_units, local, many, month, quantity, share, shown, spread
from qc.reports import picture as numbers

Row = Mapping[str, Any]
METHOD = (
    "Blocks are the sample. Level: Welch on block means. Spread in block: logarithms of each block's spread, "
    "weighted by its bores, Welch. Words after Holm's correction over the whole page."
)


def _pick(months: list[str], chosen: str) -> Component:
    at = months.index(chosen) if chosen in months else 0
    before = months[at + 1] if at + 1 < len(months) else None
    after = months[at - 1] if at > 0 else None

    def step(to: str | None, words: str) -> Component:
        if to is None:
            return html.Span(words, className="step off")
        return dcc.Link(words, href=address.MONTH + address.search({"month": to}), className="step")

    return html.Div(
        [
            step(before, "Month before"),
            dmc.Select(
                id=ids.MONTH_PICK,
                data=[{"value": m, "label": month(m)} for m in months],
                value=chosen,
                allowDeselect=False,
                size="md",
                className="pick",
                **named("Month"),
            ),
            step(after, "Month after"),
        ],
        className="tools",
    )


def _ribbon(chart: Row | None, chosen: str, zone: str) -> Component | None:
    if chart is None or not chart.get("blocks"):
        return None
    ribbon = numbers.ribbon(chart)
    others = frozenset(d.key for d in ribbon.dots if (at := local(d.at, zone)) and f"{at:%Y-%m}" != chosen)
    return picture(
        ribbon_drawn.small(ribbon, width=200, height=44, pale=others),
        "Blocks of this month among all",
        "ribbon",
    )


def _compared(found: Row | None, how: Shown, with_what: str) -> Component:
    word, ratio, whole = logic.against(found)
    moved = logic.moved(found, how) if with_what == "last_month" else ""
    return html.Td(
        [
            html.Span(word, className="verdict changed" if word in logic.CHANGED else "verdict", title=whole),
            html.Span(ratio, className="small"),
            html.Span(f"mean {moved}", className="small") if moved else None,
        ],
        className="word compared",
        **marked("against", with_what),
    )


def _figure(
    row: Row,
    figure: Row,
    charts: Mapping[str, Row],
    chosen: str,
    answers: Answers,
) -> Component:
    key = logic.identity(row, figure)
    how = shown(figure["unit"], answers.units(), figure["characteristic"])
    compared = figure.get("against") or {}
    chart = charts.get(key)
    coded = bool(chart and chart.get("coded"))
    link = address.of_series({**row, **figure})
    return html.Tr(
        [
            html.Td(
                dcc.Link(logic.what(figure), href=link, className="row-link"),
                className="word what",
            ),
            html.Td(_ribbon(chart, chosen, answers.zone()), className="word figure"),
            html.Td(str(figure["blocks"]), className="number"),
            html.Td(quantity(figure.get("mean"), how, sign=coded), className="number"),
            html.Td(spread(figure.get("spread_in_block"), how), className="number"),
            html.Td(spread(figure.get("spread_between_blocks"), how), className="number"),
            _compared(compared.get("last_month"), how, "last_month"),
            _compared(compared.get("last_year"), how, "last_year"),
        ],
        **marked("series", key),
    )


def _events(row: Row, zone: str) -> str:
    told = [f"{e['words']} {day(e['at'], zone)}" for e in row.get("events") or ()]
    return ", ".join(told)


def _section(row: Row, charts: Mapping[str, Row], chosen: str, answers: Answers) -> Component:
    first = share(row.get("first_pass"))
    facts = [
        many(row["builds"], "build"),
        many(row["bores"], "bore"),
        f"right at the first pass {first}" if first else "",
        f"{row['held']} held" if row.get("held") else "",
        _events(row, answers.zone()),
    ]
    head: list[Children] = [
        "",
        "",
        "blocks",
        "mean",
        "bore to bore",
        "block to block",
        "against last month",
        "against last year",
    ]
    return html.Section(
        [
            html.H2(logic.title(row)),
            html.P(headline(row.get("sentence"), answers.units(), logic.title(row))),
            html.P("; ".join(f for f in facts if f) + ".", className="small"),
            html.Div(
                html.Table(
                    [
                        html.Thead(
                            html.Tr(
                                [
                                    html.Th(h, className="number" if 2 <= i <= 5 else "word")
                                    for i, h in enumerate(head)
                                ]
                            )
                        ),
                        html.Tbody([_figure(row, f, charts, chosen, answers) for f in row["figures"]]),
                    ],
                    className="lines month-lines",
                ),
                className="wide",
            ),
        ],
        className="month-row",
    )


@view
def page(answers: Answers, asked: Question) -> Component:
    """The Month page."""
    months = logic.months(answers.series({}), answers.zone())
    chosen = address.one(asked, "month") or (months[0] if months else "")
    if not chosen:
        return html.Section(
            [
                html.H1("No month has any work yet"),
                html.P(dcc.Link("Add files on the floor", href="/", className="way")),
            ]
        )
    question = narrowed(asked)
    document = answers.month(chosen, question)
    charts = {r["id"]: r for r in answers.chart(question)["series"]}
    rows = document["rows"]
    loud = [row for row in rows if logic.changed(row)]
    nothing = [html.P("No block was made in this month.")] if not rows else []
    return html.Div(
        [
            _pick(months, chosen),
            html.H1(month(chosen)),
            *[
                html.P(in_units(str(r.get("sentence") or ""), answers.units()), className="lead")
                for r in loud
            ],
            html.P(logic.overview(rows), className="lead" if not loud else "") if rows else None,
            *[_section(row, charts, chosen, answers) for row in rows],
            *nothing,
            how_computed(document.get("methods") or METHOD),
            cautions(document),
        ],
        className="month",
    )

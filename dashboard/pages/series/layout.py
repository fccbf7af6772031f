"""The Series page: the headline, the ribbon, what it holds of its tolerance, the readings behind a block."""

from collections.abc import Mapping, Sequence
from typing import Any

import dash_mantine_components as dmc
from dash import dcc, html
from dash.development.base_component import Component

from dashboard import ids
from dashboard.answers import Answers, Question
from dashboard.components import address, words
from dashboard.components.plain import cautions, fold, how_computed, named, picture, table, view
from dashboard.figures import ribbon, ribbon_drawn, spreads
from dashboard.pages.series import behind, holds, kinds, logic, shape
from dashboard.theme.drawing import CONFIG
from dashboard.theme.shown import in_units, number
from qc.catalogue import said
from qc.reports.picture import fan_words


def _pick(answers: Answers, asked: Question, present: Mapping[str, Any] | None) -> Component:
    groups: dict[str, list[dict[str, str]]] = {}
    for row in answers.series({})["series"]:
        label = f"{row['machine']}, {said(row['operation'])}: {words.what(row)}"
        groups.setdefault(row["machine"], []).append({"value": address.of_series(row), "label": label})
    select: Component = dmc.Select(
        id=ids.SERIES_PICK,
        data=[{"group": name, "items": items} for name, items in sorted(groups.items())],
        value=address.of_series(present) if present else None,
        placeholder="Choose a series",
        searchable=True,
        allowDeselect=False,
        size="md",
        maxDropdownHeight=420,
        nothingFoundMessage="no such series",
        className="pick",
        **named("Series"),
    )
    return select


def _by(asked: Question) -> Component:
    """Whether bores or dates run to the right."""
    present = address.one(asked, "by") or "bores"
    return html.Nav(
        [
            dcc.Link(
                name,
                href=address.SERIES + address.search({**asked, "by": key}),
                className="here" if key == present else "",
                id=f"by-{key}",
            )
            for key, name in (("bores", "in the order made"), ("date", "by date"))
        ],
        className="either",
        **named("What runs to the right"),
    )


def _ribbon(told: logic.Told, asked: Question) -> Component:
    chosen = address.one(asked, "block")
    drawn = ribbon.figure(
        told.ribbon,
        told.how,
        told.zone,
        chosen=chosen,
        off=words.height(told.chart, told.how.words),
    )
    name = words.name(told.chart)
    return html.Figure(
        [
            dcc.Graph(
                id=ids.SERIES_RIBBON,
                figure=drawn,
                config=CONFIG,
                responsive=True,
                style={"height": f"{ribbon.HEIGHT}px"},
                className="screen-only",
            ),
            picture(ribbon_drawn.large(told.ribbon, told.how), f"Ribbon of {name}", "print-only"),
            html.Figcaption(_caption(told)),
        ],
        className="large-ribbon",
    )


def _caption(told: logic.Told) -> str:
    parts = [
        "A dot is the mean of one block, its hairline runs from the lowest to the highest bore; "
        "choose a dot to see the readings behind it."
    ]
    limits = told.chart.get("limits") or {}
    if limits.get("words"):
        parts.append(f"{in_units(limits['words'], told.units, told.chart['characteristic'])}")
    if told.ribbon.guard is not None:
        edge = number(told.ribbon.guard * told.how.factor, told.how.decimals)
        parts.append(f"Within {edge} {told.how.words} of a limit the gauge cannot tell.")
    if len([r for r in told.capability if r.get("window") and not r["window"].get("scaled")]) > 1:
        parts.append("The limits drawn are those of the latest block.")
    return " ".join(parts)


def title(text: str, **more: Any) -> Component:
    """A headline; a long one in smaller type."""
    return html.H1(text, className="long" if len(text) > 84 else "", **more)


def _tells(sentence: str) -> bool:
    """Whether a headline has its forecast in it."""
    return any(words_ in sentence for words_ in (" left, ", " limit in about ", "already beyond"))


def _headline(told: logic.Told) -> list[Component | None]:
    row = told.drift or told.chart
    do, why = words.sentence(row, told.units)
    forecast = ""
    known = told.drift and (told.drift.get("bores_to_limit") or {}).get("median") is not None
    if told.drift and known and not _tells(do + why):
        forecast = f"Forecast: {fan_words(told.drift)}."
    second = [logic.span(told.head, told.zone), logic.left_out(told.head)]
    return [
        html.P(words.name(told.chart), className="over"),
        title(do or why or words.condition(row.get("condition")).capitalize()),
        html.P(why, className="why") if do and why else None,
        html.P(forecast, className="forecast-words", id="forecast") if forecast else None,
        html.P("; ".join(p for p in second if p) + ".", className="small"),
    ]


def _spread_strip(told: logic.Told) -> Component | None:
    if not any(d.spread is not None for d in told.ribbon.dots):
        return None
    main = told.main
    strip = spreads.figure(told.ribbon, told.how, told.zone, main.get("spread_in_block") if main else None)
    return fold(
        "Spread in each block",
        dcc.Graph(
            id=ids.SERIES_SPREAD, figure=strip, config=CONFIG, responsive=True, style={"height": "190px"}
        ),
        "spread-strip",
        id="spread-strip",
    )


def _history(told: logic.Told) -> Component | None:
    seen = logic.signals(told.drift, told.zone, told.units)
    return fold("What was seen so far", html.Ul([html.Li(s) for s in seen]), "seen") if seen else None


def choose(rows: Sequence[Mapping[str, Any]], asked: Question) -> Component:
    """All series that fit, to choose one."""
    if not rows:
        return html.Section(
            [
                html.H1("No series fits these words"),
                html.P(dcc.Link("Show all series", href=address.SERIES, className="way")),
            ]
        )
    lines = [
        [
            dcc.Link(words.name(row), href=address.of_series(row), className="row-link"),
            words.condition(row.get("condition")),
            str(row["blocks"]),
            str(row["readings"]),
        ]
        for row in sorted(rows, key=lambda r: r["id"])
    ]
    head = "All series" if not logic.narrowed(asked) else f"{len(rows)} series fit"
    return html.Section([html.H1(head), table(["series", "condition", "blocks", "readings"], lines, words=2)])


@view
def page(answers: Answers, asked: Question) -> Component:
    """The Series page."""
    found = logic.told(answers, asked)
    if not isinstance(found, logic.Told):
        return html.Div([_pick(answers, asked, None), choose(found, asked)], className="series")
    methods = {
        "limits for block means": found.chart.get("methods"),
        "drift": (found.drift or {}).get("methods"),
        "capability": (found.main or {}).get("methods"),
    }
    return html.Div(
        [
            html.Div(
                [_pick(answers, asked, found.chart), _by(asked), behind.choose(found, asked)],
                className="tools",
            ),
            *_headline(found),
            _ribbon(found, asked),
            _spread_strip(found),
            html.Div(behind.readings(answers, found, asked), id=ids.SERIES_READINGS),
            kinds.section(answers, found, asked),
            holds.capability(found),
            shape.section(answers, found, asked),
            behind.blocks(found),
            _history(found),
            how_computed({k: v for k, v in methods.items() if v}),
            cautions(found.document),
        ],
        className="series",
    )

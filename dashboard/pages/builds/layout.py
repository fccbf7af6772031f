"""The Builds page: clearances as planned against as achieved, tightest first, and the parts behind each."""

from collections.abc import Mapping, Sequence
from typing import Any

import dash_mantine_components as dmc
from dash import dcc, html
from dash.development.base_component import Component

from dashboard import ids
from dashboard.answers import Answers, Question
from dashboard.components import address
from dashboard.components.plain import Children, cautions, how_computed, marked, named, picture, table, view
from dashboard.figures import scales
from dashboard.pages.builds import logic
from dashboard.pages.series.logic import narrowed
from dashboard.theme.shown import Shown, day, number, quantity, shown
from qc.catalogue import said
from qc.reports import picture as numbers

Row = Mapping[str, Any]
METHOD = (
    "Bearing: bore square to the joint, mean over its stations, minus the largest journal diameter. "
    "Piston: bore at the piston sheet's depth and direction minus the skirt at its gauge point. "
    "Verdicts: ISO 14253-1 with a guard band of 1.645 standard uncertainties."
)


def _pick(builds: Sequence[Row], present: str | None, zone: str) -> Component:
    ordered = sorted(builds, key=lambda b: b.get("at") or "", reverse=True)
    data = [
        {
            "value": b["build"],
            "label": ", ".join(x for x in (b["build"], b.get("engine"), day(b.get("at"), zone)) if x),
        }
        for b in ordered
    ]
    return html.Div(
        dmc.Select(
            id=ids.BUILD_PICK,
            data=data,
            value=present,
            searchable=True,
            allowDeselect=False,
            size="md",
            placeholder="Choose a build",
            className="pick",
            **named("Build"),
        ),
        className="tools",
    )


def _position(position: Row, row: numbers.Clearance, scale: numbers.Clearances, units: str) -> Component:
    how = shown(position["unit"], units, position["characteristic"])
    shows = row.guard is not None and row.achieved is not None
    guard = number((row.guard or 0.0) * how.factor, how.decimals) if shows else ""
    value = logic.achieved(position, how)
    verdict = logic.verdict(position.get("verdict"))
    missing = logic.missing(position)
    drawn = picture(
        scales.clearance(row, scale), f"planned {logic.window(position, how)}, achieved {value}", "clearance"
    )
    cells = [
        html.Span(
            [
                html.Span(logic.feature(position), className="feature"),
                html.Span(logic.what(position), className="small"),
            ]
        ),
        html.Span(drawn),
        html.Span(
            [
                html.Span(value, className="achieved"),
                html.Span(f" ± {guard}" if guard and not missing else ""),
            ],
            className="number",
        ),
        html.Span(logic.window(position, how), className="number"),
        html.Span(quantity(position.get("off_plan"), how, sign=True, unit=False), className="number"),
        html.Span(
            f"missing: {missing}" if missing else verdict,
            className=f"verdict {position.get('verdict') or 'none'}",
        ),
    ]
    return html.Li(
        html.Details([html.Summary(cells, className="row"), _parts(position, how, units)]),
        **marked("position", f"{position['feature']}/{position['characteristic']}"),
    )


def _parts(position: Row, how: Shown, units: str) -> Component:
    rows: list[list[Children]] = [list(r) for r in logic.parts(position, how, shown("mm", units))]
    head: list[Children] = ["part", "where", "how it was held", "size", "readings", "gauge"]
    body: list[Children] = [table(head, rows, words=3)] if rows else []
    source = position.get("source")
    body.append(
        html.P(
            f"Plan from {source or 'nobody: no source is on record'}. Route: {said(position['method'])}.",
            className="small",
        )
    )
    return html.Div(body, className="parts")


def _unit_groups(positions: Sequence[Row]) -> dict[str, list[Row]]:
    """Piston, main and rod clearances are drawn on one scale; end play and the like on their own."""
    groups: dict[str, list[Row]] = {}
    for position in positions:
        wide = position["characteristic"] in ("end_play", "rod_side_clearance", "ring_gap")
        groups.setdefault("Plays and gaps" if wide else "Clearances", []).append(position)
    return groups


def _group(name: str, positions: Sequence[Row], units: str) -> Component:
    scale = numbers.clearances(positions)
    unit = shown(positions[0]["unit"], units, positions[0]["characteristic"]).words
    names = (
        "tightest first",
        "from 0 at the left; the planned window is the bar",
        "achieved",
        "planned",
        "off plan",
        "",
    )
    cells = [html.Span(name, className="number" if 2 <= i <= 4 else "") for i, name in enumerate(names)]
    head = html.Li(html.Div(cells, className="row"), className="head")
    return html.Section(
        [
            html.H2(f"{name}, {unit}"),
            html.Ol(
                [head, *(_position(p, r, scale, units) for p, r in zip(positions, scale.rows, strict=True))],
                className="clearances",
            ),
        ]
    )


@view
def page(answers: Answers, asked: Question) -> Component:
    """The Builds page."""
    question = {k: v for k, v in narrowed(asked).items() if k != "build"}
    document = answers.clearance(question)
    builds = document["builds"]
    name = address.one(asked, "build")
    build = logic.chosen(builds, name)
    if build is None:
        words = f"No build called {name} has clearances here" if name else "No build has clearances yet"
        return html.Section(
            [
                _pick(builds, None, answers.zone()),
                html.H1(words),
                html.P(
                    "Clearances appear when bores, journals and shells (or pistons) of a build are measured."
                ),
                html.P(dcc.Link("Back to the floor", href="/", className="way")),
            ]
        )
    made = ", ".join(x for x in (build.get("engine"), day(build.get("at"), answers.zone())) if x)
    return html.Div(
        [
            _pick(builds, build["build"], answers.zone()),
            html.P(made, className="over"),
            html.H1(build["build"]),
            html.P(logic.head(build, answers.units()), className="lead"),
            html.P(
                "Tightest against its lower limit first. The whisker is how far the gauges can be off (95 % "
                "on either side): where it crosses a limit, the gauge cannot tell. A row opens to its parts.",
                className="small",
            ),
            *[_group(n, found, answers.units()) for n, found in _unit_groups(build["positions"]).items()],
            how_computed(build.get("methods") or document.get("methods") or METHOD),
            cautions(document),
        ],
        className="builds",
    )

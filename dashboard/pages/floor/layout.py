"""The Floor page: what needs a person, in order of urgency; the steady rest in one line."""

from collections.abc import Mapping
from typing import Any, Final

from dash import dcc, html
from dash.development.base_component import Component

from dashboard.answers import Answers, Question
from dashboard.components import address
from dashboard.components.landing import doubt, drop_area
from dashboard.components.plain import cautions, fold, view
from dashboard.pages.floor import logic, matters
from dashboard.theme.shown import many

SHOWN: Final = 10  # findings that open on the Floor; all are on the page of doubts


def _decide(finding: Mapping[str, Any]) -> str:
    return address.WAITING + address.search({"finding": str(finding["id"])})


def _waiting(held: Mapping[str, Any]) -> Component | None:
    findings = [f for f in held.get("findings") or () if not f.get("decided")]
    if not findings:
        return None
    verb = "waits" if len(findings) == 1 else "wait"
    listed: list[Component] = [
        html.Div(
            [
                html.H3(str(f.get("file") or "")),
                html.Ul(doubt(f)),
                html.P(dcc.Link("Decide about it", href=_decide(f), className="way")),
            ]
        )
        for f in findings[:SHOWN]
    ]
    if len(findings) > SHOWN:
        more = f"See all {len(findings)} under Waiting for you"
        listed.append(html.P(dcc.Link(more, href=address.WAITING, className="way")))
    return fold(
        [
            html.Span(f"{many(len(findings), 'finding')} {verb} for you"),
            html.Span(f" {held['sentence']}", className="small"),
        ],
        listed,
        "waiting",
        id="waiting",
    )


def _place(words: str, told: str, href: str) -> Component:
    return html.Li(dcc.Link([html.Span(words), html.Span(told, className="small")], href=href))


def _map(drift: Mapping[str, Any]) -> Component:
    machines, gauges = logic.floor_map(drift)
    listed: list[Component] = [
        html.Div([html.H3(machine), html.Ul([_place(*line) for line in lines])])
        for machine, lines in machines
    ]
    masters: list[Component] = []
    if gauges:
        lines = html.Ul([_place(*line) for line in gauges], className="gauges")
        masters = [html.H2("Gauges"), fold(logic.gauge_words([told for _, told, _ in gauges]), lines)]
    return html.Section([html.H2("Machines"), *listed, *masters], className="map", id="map")


def first_steps(answers: Answers) -> Component:
    """An empty store: one sentence, a drop area, the demo shop."""
    return html.Section(
        [
            html.H1("This store is empty: drop the shop's measurement files to begin"),
            drop_area("Drop bench sheets, gauge files and lists here "),
            html.P(["or try the demo shop: ", html.Code("qc demo")], className="demo"),
            html.P(
                [
                    "An empty sheet with the right header comes from ",
                    html.Code("qc template readings FILE.xlsx"),
                    ". Nothing leaves this machine.",
                ],
                className="small",
            ),
        ],
        className="first",
        id="first-steps",
    )


@view
def page(answers: Answers, asked: Question) -> Component:
    """The Floor page."""
    drift = answers.drift(asked)
    held = answers.held()
    if not drift["series"] and not held.get("findings") and not asked:
        return first_steps(answers)
    floor = logic.floor(drift, answers.chart(asked), answers.units())
    wanted = address.one(asked, "matter")
    return html.Div(
        [
            html.Div(
                [
                    html.H1(logic.head(len(floor.open))),
                    html.Ol(
                        [matters.matter(one, opened=one.id == wanted) for one in floor.open],
                        className="matters loud",
                    )
                    if floor.open
                    else None,
                    matters.watched(floor.watched),
                    fold(logic.rest(floor.quiet), matters.series(floor.quiet, "quiet"), "rest", id="rest")
                    if floor.quiet
                    else None,
                    matters.proposed(floor.proposed),
                    matters.before(floor.ended, floor.more_ended),
                    matters.budget(drift.get("alarm_level")),
                    _waiting(held),
                    html.Section(
                        [html.H2("Add files"), drop_area("Drop bench sheets, gauge files and lists here ")],
                        className="add",
                    ),
                ],
                className="main-column",
            ),
            _map(drift),
            cautions(drift),
        ],
        className="floor",
    )

"""One matter of the list: its line, and below it its series, its course, and what a person says."""

from collections.abc import Mapping
from typing import Any

from dash import dcc, html
from dash.development.base_component import Component

from dashboard import ids
from dashboard.components.plain import Children, fold, marked, news, picture
from dashboard.pages.floor import logic
from dashboard.theme.shown import many


def line(shown: logic.Line) -> Component:
    """One line: condition, words, ribbon, bores left; the whole of it leads to its series."""
    left: list[Children] = [
        picture(shown.left, shown.left_words, "left"),
        html.Span(shown.left_words, className="small"),
    ]
    return dcc.Link(
        [
            html.Span(
                [picture(shown.mark, "", "mark"), shown.condition.replace("thin", "too few blocks")],
                className=f"condition {shown.condition}",
            ),
            html.Span(
                [
                    html.Span(shown.do, className="sentence") if shown.do else None,
                    html.Span(shown.why, className="reason") if shown.why else None,
                    html.Span(shown.name, className="name") if shown.name else None,
                ],
                className="told",
            ),
            html.Span(
                picture(shown.ribbon, f"Ribbon of {shown.name or shown.do}", "ribbon"), className="figure"
            ),
            html.Span(left if shown.left else None, className="bores-left"),
        ],
        href=shown.href,
        className="matter",
    )


def series(lines: list[logic.Line], name: str) -> Component:
    """A list of series."""
    return html.Ol(
        [html.Li(line(one), **marked("series", one.id)) for one in lines], className=f"matters {name}"
    )


def matter(shown: logic.Matter, *, opened: bool) -> Component:
    """A matter that needs somebody."""
    return html.Li(
        [
            line(shown.line),
            fold(
                [html.Span(shown.hand), html.Span(f" {shown.held}", className="small")],
                [
                    _list("What lies ahead", shown.ahead),
                    _list("What is to be done", shown.reactions),
                    _bores(shown),
                    html.H3("What shows it"),
                    series(shown.series, "quiet within"),
                    _list("Its course", shown.course),
                    _said(shown),
                ],
                "hands",
                open=opened,
            ),
        ],
        **marked("matter", shown.id),
    )


def _list(head: str, lines: list[str]) -> Component | None:
    if not lines:
        return None
    return html.Div([html.H3(head), html.Ul([html.Li(text) for text in lines])], className="course")


def _bores(shown: logic.Matter) -> Component | None:
    """The bores made since the last good block, by build."""
    if not shown.bores:
        return None
    builds = [
        html.Li([html.Span(build, className="build"), html.Span(features, className="small")])
        for build, features in shown.builds
    ]
    return fold(f"May have to be measured again: {shown.bores}", html.Ul(builds, className="bores"), "made")


def _said(shown: logic.Matter) -> Component:
    """Initials, one free sentence, and what it is: taken up, done, ended."""

    def field(kind: str, words: str, name: str, longest: int) -> Component:
        found: Component = html.Label(
            [
                html.Span(words, className="small"),
                dcc.Input(
                    id={"type": kind, "matter": shown.id}, className=name, maxLength=longest,
                    autoComplete="off",
                ),
            ]
        )
        return found

    def button(act: str, words: str) -> Component:
        found: Component = html.Button(
            words, id={"type": ids.MATTER_ACT, "act": act, "matter": shown.id}, className="say", n_clicks=0
        )
        return found

    return html.Div(
        [
            field(ids.MATTER_INITIALS, "Initials", "initials", 8),
            field(ids.MATTER_SAID, "One sentence", "said", 500),
            html.Div(
                [
                    button("taken_up", "Take it up"),
                    button("done", "Done"),
                    button("ended", "End it"),
                ],
                className="says",
            ),
            news({"type": ids.MATTER_NEWS, "matter": shown.id}),
        ],
        className="hand-form",
    )


def watched(shown: list[logic.Ended]) -> Component | None:
    """Matters that have ended while the next blocks still have to agree."""
    if not shown:
        return None
    return html.Section(
        [
            html.H2("Ended: the next blocks will tell"),
            html.Ul([_ended(one) for one in shown], className="watched-list"),
        ],
        className="watched",
        id="watched",
    )


def _ended(one: logic.Ended) -> Component:
    return html.Li(
        [html.Span(one.sentence), *(html.Span(text, className="small") for text in one.hands)],
        **marked("matter", one.id),
    )


def before(shown: list[logic.Ended], more: int) -> Component | None:
    """Matters of the past, folded."""
    if not shown:
        return None
    listed: list[Component] = [html.Ul([_ended(one) for one in shown], className="watched-list")]
    if more:
        listed.append(html.P(["All of them: ", html.Code("qc matter list --all")], className="small"))
    return fold(f"{many(len(shown) + more, 'matter')} ended before", listed, "past", id="past")


def proposed(shown: list[tuple[str, str]]) -> Component | None:
    """Changes of tools that nobody logged, for a person to confirm."""
    if not shown:
        return None
    lines = [html.Li([html.Span(words), html.Code(command)]) for words, command in shown]
    head = f"{many(len(shown), 'change')} that nobody logged"
    return fold(head, html.Ul(lines, className="watched-list"), "past", id="proposed")


def budget(level: Mapping[str, Any] | None) -> Component | None:
    """How many of these matters are false by chance."""
    words = logic.budget(level)
    return html.P(words, className="small budget") if words else None

"""Plain pieces of a page: pictures, tables, folds, refusals, how a figure was computed."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from functools import wraps
from typing import Any, ParamSpec

import dash_mantine_components as dmc
from dash import dcc, html
from dash.development.base_component import Component

from qc.errors import QcError
from qc.reports.words import whole

Children = Any
P = ParamSpec("P")
CAUTION = (
    "Numbers are advice: the engine maker's data and the responsible machinist decide. "
    "A chart signal is no defect, and a steady series may still be outside its limits."
)


def named(words: str) -> dict[str, Any]:
    """Attribute with the words that a screen reader says."""
    return {"aria-label": words}


def marked(key: str, value: str) -> dict[str, Any]:
    """Attribute that says which row of an answer an element shows."""
    return {f"data-{key}": value}


def picture(source: str | None, words: str, name: str = "drawn") -> Component | None:
    """A drawn picture with its words for those who do not see it."""
    return html.Img(src=source, alt=words, className=name) if source else None


def fold(summary: Children, children: Children, name: str = "", **more: Any) -> Component:
    """Something that opens on demand."""
    return html.Details(
        [html.Summary(summary), html.Div(children, className="folded")], className=f"fold {name}", **more
    )


def table(
    head: Sequence[Children], rows: Iterable[Sequence[Children]], *, name: str = "", words: int = 1
) -> Component:
    """A table of lines; the first `words` columns are words, the others numbers that stand to the right.

    One of nothing but text is a single component: hundreds of cells as components would hold the browser up.
    """
    body = [list(row) for row in rows]
    if all(isinstance(cell, str) for row in (head, *body) for cell in row):
        look = f"lines words-{words} {name}"
        plain: Component = dmc.Table(
            data={"head": list(head), "body": body}, className=look, withRowBorders=False
        )
        return html.Div(plain, className="wide")

    def cell(kind: Any, child: Children, at: int) -> Component:
        found: Component = kind(child, className="word" if at < words else "number")
        return found

    lines = [html.Tr([cell(html.Td, c, i) for i, c in enumerate(row)]) for row in body]
    top = html.Thead(html.Tr([cell(html.Th, c, i) for i, c in enumerate(head)]))
    return html.Div(html.Table([top, html.Tbody(lines)], className=f"lines {name}"), className="wide")


def facts(pairs: Iterable[tuple[str, Children]]) -> Component:
    """Names and what they are, one a line."""
    return html.Dl(
        [html.Div([html.Dt(name), html.Dd(value)]) for name, value in pairs if value not in (None, "")],
        className="facts",
    )


def news(key: str | dict[str, str]) -> Component:
    """Where a callback says why it refused what was asked of it; screen readers say it too."""
    polite: dict[str, Any] = {"aria-live": "polite"}
    return html.P("", id=key, className="refused-words", role="status", **polite)


def refusal(error: QcError, back: str = "/") -> Component:
    """The sentence, which tells the cure, and the way back."""
    return html.Section(
        [
            html.H1("This cannot be answered as asked"),
            html.P(whole(str(error))),
            html.P(dcc.Link("Back to the floor", href=back, className="way")),
        ],
        className="refusal",
    )


def failure() -> Component:
    """Words for a fault of the program itself."""
    return html.Section(
        [
            html.H1("This page failed"),
            html.P(
                "That is a fault of this program, not of your files: nothing in the store has changed by it."
            ),
            html.P("Reload the page. If it fails again, the last lines that qc serve printed tell where."),
            html.P(dcc.Link("Back to the floor", href="/", className="way")),
        ],
        className="refusal",
    )


def view(made: Callable[P, Component]) -> Callable[P, Component]:
    """A page's view: a refusal becomes a page of its own, never a traceback."""

    @wraps(made)
    def guarded(*args: P.args, **kwargs: P.kwargs) -> Component:
        try:
            return made(*args, **kwargs)
        except QcError as error:
            return refusal(error)

    return guarded


def _told(value: Any) -> Children:
    if isinstance(value, Mapping):
        return facts((str(k).replace("_", " "), _told(v)) for k, v in value.items())
    if isinstance(value, list | tuple):
        return ", ".join(str(v) for v in value)
    return "" if value is None else str(value)


def how_computed(methods: Any, *more: Children) -> Component:
    """Method, source and what else stands behind a figure."""
    told = _told(methods) if methods else None
    return fold(
        "How was this computed", [*more, told or html.P("No figure here has a method of its own.")], "how"
    )


def cautions(document: Mapping[str, Any]) -> Component:
    """The answer's cautions; the general one where an answer has none."""
    told = [str(c) for c in document.get("cautions") or ()]
    return html.Footer([html.P(text) for text in dict.fromkeys(told or [CAUTION])], className="cautions")

"""Waiting for you: every doubt, its cells before and after beside the file, and the decision."""

from collections.abc import Mapping, Sequence
from typing import Any, Final

import dash_mantine_components as dmc
from dash import dcc, html
from dash.development.base_component import Component

from dashboard import ids
from dashboard.answers import Answers, Question
from dashboard.components import address
from dashboard.components.plain import Children, cautions, fold, marked, named, news, table, view
from dashboard.pages.waiting import logic
from dashboard.theme.shown import day, many
from qc.errors import QuestionError
from qc.history.zone import iso

Row = Mapping[str, Any]
_CHANGES: Final = (
    "row", "about", "text in the file", "counts as", "verdict", "proposed", "would count as", "verdict then",
)  # fmt: skip
_FIRST: Final = 6  # rows shown at once; the rest opens


def _link(row: Row, present: int | None, words: str) -> Component:
    return html.Li(
        dcc.Link(
            [
                html.Span(words, className="small"),
                html.Strong(str(row["file"])),
                html.Span(str(row["saw"]), className="saw"),
            ],
            href=address.WAITING + address.search({"finding": str(row["id"])}),
            className="here" if row["id"] == present else "",
        ),
        **marked("doubt", str(row["id"])),
    )


def _list(rows: Sequence[Row], present: int | None) -> Component:
    left, gone = logic.waiting(rows), logic.decided(rows)
    open_ = [_link(r, present, logic.standing(r)) for r in left]
    done = [_link(r, present, logic.done(r)) for r in gone]
    parts: list[Children] = [html.Ol(open_, className="doubts")] if open_ else []
    if done:
        parts.append(fold(f"Decided lately ({len(done)})", html.Ol(done, className="doubts")))
    return html.Nav(parts, className="doubt-list", **named("Doubts"))


def _parts(row: Row) -> Component:
    return html.Dl(
        [html.Div([html.Dt(name), html.Dd(str(row[key]))]) for name, key in logic.PARTS[1:] if row[key]],
        className="doubt-parts",
    )


def _changes(row: Row, sentence: str) -> list[Children]:
    rows = row["before_after"]
    if not rows:
        return []
    all_ = row["held_rows"] <= len(rows)
    more = "" if all_ else f" The first {len(rows)} of {row['held_rows']} rows are shown."
    lines = [logic.change(r) for r in rows]
    parts: list[Children] = [
        html.H3("Before and after"),
        html.P(sentence + more, className="lead"),
        table(_CHANGES, lines[:_FIRST], name="changes", words=3),
    ]
    if lines[_FIRST:]:
        rest = table(_CHANGES, lines[_FIRST:], name="changes", words=3)
        parts.append(fold(f"{many(len(lines) - _FIRST, 'row')} more", rest))
    return parts


def _grid(row: Row) -> list[Children]:
    grid = row["grid"]
    if grid is None:
        return []
    lines = [
        html.Tr(
            [html.Th(str(line["row"]), scope="row")]
            + [html.Td(c["text"], className="doubted" if c["doubted"] else "") for c in line["cells"]]
        )
        for line in grid["rows"]
    ]
    sheet = f", sheet {grid['sheet']}" if grid["sheet"] else ""
    return [
        html.H3(f"In the file {row['file']}{sheet}"),
        html.Div(html.Table(html.Tbody(lines), className="source"), className="wide"),
    ]


def _field(key: str, label: str, **more: Any) -> Component:
    found: Component = dmc.TextInput(id=key, label=label, size="md", **more)
    return found


def _button(key: str, words: str, *, name: str = "") -> Component:
    return html.Button(words, id=key, className=f"act {name}", n_clicks=0)


def _only(fits: bool) -> dict[str, Any]:
    return {} if fits else {"style": {"display": "none"}}


def _decision(row: Row) -> Component:
    """What a person can decide; buttons that do not fit are hidden, so that the callback has its inputs."""
    taken = bool(row["decided"])
    proposal = "Take as proposed" if logic.proposes(row) else "Take as I write it"
    own = _field(ids.DOUBT_TEXT, "What the cells should read, if not as proposed", placeholder="93.008")
    buttons = html.Div(
        [
            _button(ids.DOUBT_ACCEPT, "Take as written"),
            _button(ids.DOUBT_CORRECT, proposal, name="first"),
            _button(ids.DOUBT_DISCARD, "Leave out for good"),
        ],
        className="acts",
        **_only(not taken),
    )
    back = html.Div(_button(ids.DOUBT_UNDO, "Take the decision back"), className="acts", **_only(taken))
    return html.Section(
        [
            html.H3("Your decision"),
            _field(ids.DOUBT_BY, "Your name or initials", persistence=True, persistence_type="local"),
            _field(ids.DOUBT_WHY, "Why, in a few words", placeholder="kept for ever beside the readings"),
            html.Div(own, className="own", **_only(not taken)),
            buttons,
            back,
            news(ids.DOUBT_NEWS),
        ],
        className="decide screen-only",
    )


def _story(row: Row) -> list[Children]:
    """What was decided about it before, by whom and why, and who took that back."""
    steps = logic.story(row)
    return [html.H3("Decided before"), html.Ul([html.Li(s) for s in steps])] if steps else []


def _present(answers: Answers, number: int) -> Row:
    """The document of a doubt; of one that waits under another number by now, that one's."""
    document = answers.doubt(number)
    again = document["findings"][0]["again"]
    return _present(answers, int(again[-1])) if again else document


def _doubt(answers: Answers, document: Row) -> Component:
    row = document["findings"][0]
    number = int(row["id"])
    head: list[Children] = [
        html.P(f"{row['file']}, {logic.count(row)}, {logic.severity(row)}", className="over"),
        html.H2(str(row["saw"])),
    ]
    if logic.closed(row):
        head.append(html.P(str(document["sentence"]), className="lead"))
    elif row["decided"]:
        at = day(iso(row["decided"]["at"]), answers.zone())
        head.append(html.P(f"{logic.done(row)}{f', {at}' if at else ''}.", className="lead"))
    return html.Article(
        [
            dcc.Store(id=ids.DOUBT, data=number),
            *head,
            *_story(row),
            _parts(row),
            *_changes(row, document["sentence"]),
            *_grid(row),
            *([] if logic.closed(row) else [_decision(row)]),
        ],
        className="doubt-full",
        **marked("doubt", str(number)),
    )


def _number(asked: Question) -> int | None:
    text = address.one(asked, "finding")
    if text is None:
        return None
    if not text.isdigit():
        raise QuestionError(f"{text!r} is no number of a doubt: choose one from the list")
    return int(text)


@view
def page(answers: Answers, asked: Question) -> Component:
    """The page of doubts."""
    document = answers.doubts()
    rows = document["findings"]
    left = logic.waiting(rows)
    number = _number(asked)
    if number is None and left:
        number = int(left[0]["id"])
    kept_out = sum(r["held_rows"] for r in left)
    words = f"{many(len(left), 'doubt')} for you" if left else "Nothing waits for you"
    lead = (
        f"{many(kept_out, 'row')} kept out of every figure until you decide. Nothing is changed by itself, "
        "and a decision can be taken back."
        if left
        else "Every cell of every file is either in the figures or was decided about by a person."
    )
    detail = []
    if number is not None:
        shown = _present(answers, number)
        number = int(shown["findings"][0]["id"])
        detail = [_doubt(answers, shown)]
    return html.Div(
        [
            html.H1(words),
            html.P(lead, className="lead"),
            html.Div([_list(rows, number), *detail], className="doubt-page"),
            cautions(document),
        ]
    )

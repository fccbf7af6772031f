"""The shape of the bores: pile, family and runner-up to one scale, and the choice of the family."""

from collections.abc import Mapping
from typing import Any

from dash import html
from dash.development.base_component import Component

from dashboard.answers import Answers, Question
from dashboard.components import address
from dashboard.components.plain import fold, how_computed, picture
from dashboard.figures import shape as drawn
from dashboard.pages.series import choosing, logic
from dashboard.theme.shown import in_units, many

Row = Mapping[str, Any]
_RUNGS = (
    "of the bores by the p(N + 1) rule (NIST/SEMATECH e-Handbook 7.2.6.2), of a family by mean and standard "
    "deviation of the bores as it sees them"
)


def row_of(answers: Answers, told: logic.Told, asked: Question) -> Row | None:
    """The series' row of the answer."""
    only = {key: (told.head[key],) for key in address.IDENTITY}
    found = answers.shape({**logic.narrowed(asked), **only})["series"]
    return next((r for r in found if r["id"] == told.head["id"]), None)


def _caption(row: Row) -> str:
    taken = next((f["name"] for f in row["families"] if f["taken"]), None)
    other = next((f["name"] for f in row["families"] if not f["taken"]), None)
    text = f"A dot is a bore ({many(len(row['values']), 'bore')}, first pass). "
    text += "Each row of rungs below shows where half, 1 in 6, 1 in 40 and 1 in 740 of the bores would lie"
    if taken:
        text += f": as counted, if they are {choosing.FAMILIES.get(taken, taken)}"
    if other:
        text += f", and if they are {choosing.FAMILIES.get(other, other)}"
    return text + ". Where the rows part, the index rests on the choice."


def section(answers: Answers, told: logic.Told, asked: Question) -> Component | None:
    """The picture, its words, and the choice."""
    row = row_of(answers, told, asked)
    if row is None or not row["values"]:
        return None
    image = drawn.drawn(row, told.how, choosing.FAMILIES, sign=told.coded)
    main = told.main or {}
    said = [in_units(t, told.units, told.chart["characteristic"])
            for t in (main.get("explained") or {}).get("family", ())]  # fmt: skip
    chosen = row["family_chosen"]
    usual = choosing.FAMILIES[row["usual_family"]]
    options = [(choosing.USUAL, f"the usual one: {usual}")]
    options += [(name, choosing.FAMILIES[name]) for name in row["can_hold"]]
    caption = _caption(row)
    return fold(
        "Shape of the bores, and what the choice of it is worth",
        [
            html.Div(picture(image, caption, "shape"), className="wide") if image else None,
            html.P(caption, className="small"),
            *[html.P(text) for text in said],
            choosing.form(
                "family", "Choose the family for this series", options,
                chosen["value"] if chosen else choosing.USUAL,
                [str(told.head[k]) for k in address.IDENTITY],
            ),
            how_computed({"rungs": _RUNGS}),
        ],
        "shape-fold", id="shape",
    )  # fmt: skip

"""A choice for a series on its page: what, by whom, why; it sticks for everybody."""

import json
from collections.abc import Mapping, Sequence
from typing import Final

import dash_mantine_components as dmc
from dash import html
from dash.development.base_component import Component

from dashboard import ids
from dashboard.components.plain import fold, named, news

USUAL: Final = "usual"
KINDS: Final[Mapping[str, str]] = {
    "block_means": "block means between prediction limits",
    "ewma": "running average of block means (EWMA)",
    "cusum": "running sum off centre (CUSUM)",
    "spread": "spread in each block",
    "regression": "about the wear line (regression)",
    "short_run": "each engine family by itself (short run)",
    "acceptance": "room left to the tolerance (acceptance)",
    "individuals": "single values and moving ranges",
    "mean_range": "means and ranges",
    "mean_spread": "means and standard deviations",
}
SEVERAL: Final[Mapping[str, str]] = {
    "multivariate": "size, taper, out-of-round and Ra together (T2)",
    "first_pass": "builds right first time, month by month",
    "scrap": "bores still outside after the last pass, month by month",
}
FAMILIES: Final[Mapping[str, str]] = {
    "normal": "normal", "lognormal": "lognormal", "folded_normal": "folded normal",
    "logistic": "logistic, with heavier tails",
}  # fmt: skip


def form(
    what: str, title: str, options: Sequence[tuple[str, str]], present: str, series: Sequence[str]
) -> Component:
    """Fields to choose one of several for good; `what` is the name of the choice."""

    def own(kind: str) -> dict[str, str]:
        return {"type": kind, "what": what, "series": json.dumps(list(series))}

    fields: list[Component] = [
        dmc.Select(
            id=own(ids.CHOICE), data=[{"value": v, "label": t} for v, t in options], value=present,
            allowDeselect=False, size="md", className="pick", **named(title),
        ),
        dmc.TextInput(id=own(ids.CHOICE_BY), placeholder="Initials", size="md", className="pick who",
                      **named("Initials")),
        dmc.TextInput(id=own(ids.CHOICE_WHY), placeholder="Why", size="md", className="pick",
                      **named("Why")),
        html.Button("Keep for this series", id=own(ids.CHOICE_KEEP), className="say", n_clicks=0),
    ]  # fmt: skip
    return fold(
        title,
        [
            html.Div(fields, className="tools"),
            news(own(ids.CHOICE_NEWS)),
        ],
        "choosing screen-only",
    )

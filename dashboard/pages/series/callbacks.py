"""What happens on the Series page: a series is chosen, a dot is chosen."""

import json
from typing import Any

from dash import ALL, Dash, Input, Output, State, ctx, no_update

from dashboard import ids
from dashboard.answers import Answers
from dashboard.components import address
from dashboard.pages.series.choosing import USUAL
from qc.errors import QcError
from qc.reports.words import whole


def register(app: Dash, answers: Answers) -> None:
    """Turn choices into addresses, so that every view can be reloaded and sent; keep what is to stick."""
    _addresses(app)
    _kinds(app)
    _choices(app, answers)


def _kinds(app: Dash) -> None:
    @app.callback(
        Output(ids.ADDRESS, "search", allow_duplicate=True),
        Input(ids.SERIES_KIND, "value"),
        State(ids.SERIES_KIND, "name"),
        State(ids.ADDRESS, "search"),
        prevent_initial_call=True,
    )
    def _kind_chosen(value: str | None, shown: str | None, search: str | None) -> Any:
        # the name is the kind the page was drawn with: nobody chose anything yet
        if not value or value == shown:
            return no_update
        return address.search({**address.parse(search), "kind": (value,)})


def _choices(app: Dash, answers: Answers) -> None:
    def each(kind: str) -> dict[str, Any]:
        return {"type": kind, "what": ALL, "series": ALL}

    @app.callback(
        Output(ids.CHANGED, "data", allow_duplicate=True),
        Output(each(ids.CHOICE_NEWS), "children"),
        Input(each(ids.CHOICE_KEEP), "n_clicks"),
        State(each(ids.CHOICE), "value"),
        State(each(ids.CHOICE_BY), "value"),
        State(each(ids.CHOICE_WHY), "value"),
        State(each(ids.CHOICE_NEWS), "id"),
        prevent_initial_call=True,
    )
    def _kept(
        clicks: list[int], values: list[Any], initials: list[Any], why: list[Any], there: list[Any]
    ) -> tuple[Any, Any]:
        button = ctx.triggered_id
        news: list[Any] = [no_update] * len(there)
        if not button or not any(clicks):  # the page was drawn, nobody pressed
            return no_update, news
        at = [one["what"] for one in there].index(button["what"])
        value = None if values[at] == USUAL else values[at]
        try:
            answers.choose(
                json.loads(button["series"]), button["what"], value,
                initials=initials[at] or "", reason=why[at] or "",
            )  # fmt: skip
        except QcError as refusal:
            news[at] = whole(str(refusal))
            return no_update, news
        return answers.revision(), news


def _addresses(app: Dash) -> None:

    @app.callback(
        Output(ids.ADDRESS, "search", allow_duplicate=True),
        Input(ids.SERIES_PICK, "value"),
        State(ids.ADDRESS, "search"),
        prevent_initial_call=True,
    )
    def _series_chosen(value: str | None, search: str | None) -> Any:
        if not value:
            return no_update
        chosen = value.partition("?")[2]
        now = address.parse(search)
        wanted = address.parse(chosen)
        same = all(now.get(key) == wanted.get(key) for key in address.IDENTITY)
        return no_update if same else address.search(wanted)

    @app.callback(
        Output(ids.ADDRESS, "search", allow_duplicate=True),
        Input(ids.SERIES_RIBBON, "clickData"),
        State(ids.ADDRESS, "search"),
        prevent_initial_call=True,
    )
    def _dot_chosen(click: dict[str, Any] | None, search: str | None) -> Any:
        build = next((p["customdata"] for p in (click or {}).get("points", ()) if p.get("customdata")), None)
        if build is None:
            return no_update
        build = build[0] if isinstance(build, list) else build
        return address.search({**address.parse(search), "block": str(build)})

    @app.callback(
        Output(ids.ADDRESS, "search", allow_duplicate=True),
        Input(ids.SERIES_BLOCK, "value"),
        State(ids.ADDRESS, "search"),
        prevent_initial_call=True,
    )
    def _block_chosen(value: str | None, search: str | None) -> Any:
        now = address.parse(search)
        if address.one(now, "block") == (value or None):
            return no_update
        rest = {k: v for k, v in now.items() if k != "block"}
        return address.search(rest | ({"block": (value,)} if value else {}))

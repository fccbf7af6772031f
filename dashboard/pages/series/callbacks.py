"""What happens on the Series page: a series is chosen, a dot is chosen."""

from typing import Any

from dash import Dash, Input, Output, State, no_update

from dashboard import ids
from dashboard.answers import Answers
from dashboard.components import address


def register(app: Dash, _answers: Answers) -> None:
    """Turn choices into addresses, so that every view can be reloaded and sent."""

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

"""What happens on the Builds page: a build is chosen."""

from typing import Any

from dash import Dash, Input, Output, State, no_update

from dashboard import ids
from dashboard.answers import Answers
from dashboard.components import address


def register(app: Dash, _answers: Answers) -> None:
    """Turn the chosen build into the address."""

    @app.callback(
        Output(ids.ADDRESS, "search", allow_duplicate=True),
        Input(ids.BUILD_PICK, "value"),
        State(ids.ADDRESS, "search"),
        prevent_initial_call=True,
    )
    def _build_chosen(value: str | None, search: str | None) -> Any:
        now = address.parse(search)
        if not value or now.get("build") == (value,):
            return no_update
        return address.search({**now, "build": value})

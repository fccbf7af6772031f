"""What happens on the Month page: a month is chosen."""

from typing import Any

from dash import Dash, Input, Output, State, no_update

from dashboard import ids
from dashboard.answers import Answers
from dashboard.components import address


def register(app: Dash, _answers: Answers) -> None:
    """Turn the chosen month into the address."""

    @app.callback(
        Output(ids.ADDRESS, "search", allow_duplicate=True),
        Input(ids.MONTH_PICK, "value"),
        State(ids.ADDRESS, "search"),
        prevent_initial_call=True,
    )
    def _month_chosen(value: str | None, search: str | None) -> Any:
        now = address.parse(search)
        if not value or now.get("month") == (value,):
            return no_update
        return address.search({**now, "month": value})

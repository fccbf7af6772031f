"""What happens on the Floor page: files are dropped."""

from typing import Any

from dash import Dash, Input, Output, State, no_update

from dashboard import ids
from dashboard.answers import Answers
from dashboard.components.landing import Landing, news


def register(app: Dash, answers: Answers) -> None:
    """Take dropped files in and tell how far they are."""
    landing = Landing(answers)

    @app.callback(
        Output(ids.DROP_JOB, "data"),
        Output(ids.DROP_TICK, "disabled"),
        Input(ids.DROP, "contents"),
        State(ids.DROP, "filename"),
        prevent_initial_call=True,
    )
    def _dropped(contents: list[str] | None, names: list[str] | None) -> tuple[Any, Any]:
        if not contents or not names:
            return no_update, no_update
        return landing.begin(names, contents), False

    @app.callback(
        Output(ids.DROP_NEWS, "children"),
        Output(ids.DROP_TICK, "disabled", allow_duplicate=True),
        Input(ids.DROP_TICK, "n_intervals"),
        State(ids.DROP_JOB, "data"),
        prevent_initial_call=True,
    )
    def _told(_ticks: int, key: str | None) -> tuple[Any, Any]:
        job = landing.job(key)
        if job is None:
            return no_update, True
        return news(job), job.finished

"""What happens on the Floor page: files are dropped, matters are taken up, done and ended."""

from typing import Any

from dash import ALL, Dash, Input, Output, State, ctx, no_update

from dashboard import ids
from dashboard.answers import Answers
from dashboard.components.landing import Landing, news
from qc.errors import QcError
from qc.reports.words import whole


def register(app: Dash, answers: Answers) -> None:
    """Take dropped files in and tell how far they are; note what people say about matters."""
    _dropping(app, answers)
    _matters(app, answers)


def _matters(app: Dash, answers: Answers) -> None:
    def each(kind: str) -> dict[str, Any]:
        return {"type": kind, "matter": ALL}

    @app.callback(
        Output(ids.CHANGED, "data", allow_duplicate=True),
        Output(each(ids.MATTER_NEWS), "children"),
        Input({"type": ids.MATTER_ACT, "act": ALL, "matter": ALL}, "n_clicks"),
        State(each(ids.MATTER_INITIALS), "value"),
        State(each(ids.MATTER_SAID), "value"),
        State(each(ids.MATTER_NEWS), "id"),
        prevent_initial_call=True,
    )
    def _said(clicks: list[int], initials: list[Any], said: list[Any], there: list[Any]) -> tuple[Any, Any]:
        button = ctx.triggered_id
        told: list[Any] = [no_update] * len(there)
        if not button or not any(clicks):  # the page was drawn, nobody pressed
            return no_update, told
        at = [one["matter"] for one in there].index(button["matter"])
        try:
            answers.act(button["matter"], button["act"], initials=initials[at] or "", said=said[at] or "")
        except QcError as refusal:
            told[at] = whole(str(refusal))
            return no_update, told
        return answers.revision(), told


def _dropping(app: Dash, answers: Answers) -> None:
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

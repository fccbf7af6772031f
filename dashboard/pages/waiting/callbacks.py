"""What happens on the page of doubts: a decision is taken, or taken back."""

from typing import Any, Final

from dash import Dash, Input, Output, State, ctx, no_update

from dashboard import ids
from dashboard.answers import Answers
from qc.errors import QcError, QuestionError
from qc.ingest import held
from qc.reports.words import whole

_DECISIONS: Final = {ids.DOUBT_ACCEPT: "accept", ids.DOUBT_CORRECT: "correct", ids.DOUBT_DISCARD: "discard"}


def register(app: Dash, answers: Answers) -> None:
    """Turn a button into a decision; a refusal is told beside it and changes nothing."""

    @app.callback(
        Output(ids.CHANGED, "data", allow_duplicate=True),
        Output(ids.DOUBT_NEWS, "children"),
        Input(ids.DOUBT_ACCEPT, "n_clicks"),
        Input(ids.DOUBT_CORRECT, "n_clicks"),
        Input(ids.DOUBT_DISCARD, "n_clicks"),
        Input(ids.DOUBT_UNDO, "n_clicks"),
        State(ids.DOUBT, "data"),
        State(ids.DOUBT_BY, "value"),
        State(ids.DOUBT_WHY, "value"),
        State(ids.DOUBT_TEXT, "value"),
        prevent_initial_call=True,
    )
    def _decided(*given: Any) -> Any:
        clicks, (number, by, why, text) = given[:4], given[4:]
        if not any(clicks) or number is None:
            return no_update, no_update
        try:
            _act(answers, str(ctx.triggered_id), int(number), by or "", why or "", text or "")
        except QcError as refused:
            return no_update, whole(str(refused))
        return answers.revision(), ""


def _act(answers: Answers, button: str, number: int, by: str, why: str, text: str) -> None:
    if not by.strip():
        raise QuestionError("a decision carries a name: write yours or your initials")
    if button == ids.DOUBT_UNDO:
        held.undo(answers.store, number, why, by.strip())
        return
    decision: Any = _DECISIONS[button]
    correction = text.strip() or None if decision == "correct" else None
    held.decide(answers.store, number, decision, why, by.strip(), correction)

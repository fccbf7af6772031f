"""The dashboard: `create_app` over a store, `serve` on this machine alone."""

import logging
import socket
from collections.abc import Callable
from threading import Thread
from typing import Any, Final, cast

from dash import Dash, Input, Output, no_update
from dash.development.base_component import Component
from flask_compress import Compress
from waitress import serve as serve_forever

from dashboard import guard, ids
from dashboard.answers import Answers, Question
from dashboard.components import address, frame, plain
from dashboard.pages.builds import callbacks as builds_callbacks
from dashboard.pages.builds import layout as builds
from dashboard.pages.floor import callbacks as floor_callbacks
from dashboard.pages.floor import layout as floor
from dashboard.pages.month import callbacks as month_callbacks
from dashboard.pages.month import layout as month
from dashboard.pages.series import callbacks as series_callbacks
from dashboard.pages.series import layout as series
from dashboard.pages.waiting import callbacks as waiting_callbacks
from dashboard.pages.waiting import layout as waiting
from qc.errors import QuestionError

# the drawing library comes before the pages' own scripts: fetched when a figure appears, it has 30 seconds to
# arrive, and a page that is busy drawing itself on a slow machine lets them pass
INDEX: Final = """<!DOCTYPE html>
<html lang="en">
  <head>{%metas%}<title>{%title%}</title>{%favicon%}{%css%}</head>
  <body>
    {%app_entry%}
    <footer>
      <script src="/_dash-component-suites/plotly/package_data/plotly.min.js"></script>
      {%config%}{%scripts%}{%renderer%}
    </footer>
  </body>
</html>"""
HOST: Final = "127.0.0.1"
THREADS: Final = 8
VIEWS: Final[dict[str, Callable[[Answers, Question], Component]]] = {
    address.FLOOR: floor.page,
    address.SERIES: series.page,
    address.MONTH: month.page,
    address.BUILDS: builds.page,
    address.WAITING: waiting.page,
}
PAGES: Final = (floor_callbacks, series_callbacks, month_callbacks, builds_callbacks, waiting_callbacks)


def create_app(store_place: str, *, by: str, answers: Answers | None = None) -> Dash:
    """The dashboard over one store.

    Parameters
    ----------
    store_place : str
        Path or URL of the store; made when it is not there.
    by : str
        Who writes, for the revisions.
    answers : Answers, optional
        Where the answers come from; default the reports over that store.
    """
    answers = answers or Answers(store_place, by=by)
    app = Dash(
        "dashboard",
        title="Shop floor",
        update_title=cast(Any, None),
        add_log_handler=False,
        suppress_callback_exceptions=True,
        index_string=INDEX,
    )
    app.server.extensions["qc-answers"] = answers
    source = answers
    app.layout = lambda: frame.layout(source)
    guard.protect(app)
    # scripts come over loopback once and are then kept by the browser: pressing 5 MB only makes them late
    app.server.config["COMPRESS_MIMETYPES"] = ["text/html", "text/css", "application/json"]
    Compress(app.server)
    _route(app, answers)
    _units(app, answers)
    for page in PAGES:
        page.register(app, answers)
    return app


def _broken(error: Exception) -> tuple[Any, ...]:
    """Say that the program failed instead of leaving a page that never comes; the log has the rest."""
    logging.getLogger("dashboard").error("a page failed", exc_info=error)
    return plain.failure(), no_update, no_update, no_update


def _view(answers: Answers, path: str | None, search: str | None) -> Component:
    made = VIEWS.get((path or "/").rstrip("/") or "/")
    if made is None:
        return plain.refusal(QuestionError(f"there is no page {path}: the pages are named above"))
    return made(answers, address.parse(search))


def _route(app: Dash, answers: Answers) -> None:
    @app.callback(
        Output(ids.PAGE, "children"),
        Output(ids.NAVIGATION, "children"),
        Output(ids.REVISION, "children"),
        Output(ids.PRINTED_HEAD, "children"),
        Input(ids.ADDRESS, "pathname"),
        Input(ids.ADDRESS, "search"),
        Input(ids.CHANGED, "data"),
        running=[(Output(ids.PAGE, "className"), "waiting-for-answer", "")],
        on_error=_broken,
    )
    def _shown(path: str | None, search: str | None, _changed: int) -> tuple[Any, ...]:
        return (
            _view(answers, path, search),
            frame.navigation(path),
            frame.revision(answers),
            frame.printed(answers),
        )


def _units(app: Dash, answers: Answers) -> None:
    @app.callback(Output(ids.CHANGED, "data"), Input(ids.UNITS, "value"), prevent_initial_call=True)
    def _chosen(value: str) -> int:
        if value != answers.units():
            answers.set("units", value)
        return answers.revision()


def free_port(first: int = 8050) -> int:
    """The first free port from this one on.

    Raises
    ------
    QuestionError
        When fifty in a row are taken.
    """
    for port in range(first, first + 50):
        with socket.socket(socket.AF_INET, socket.SOCK_STREAM) as probe:
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            try:
                probe.bind((HOST, port))
            except OSError:
                continue
            return port
    raise QuestionError(f"the ports {first} to {first + 49} are all taken: name a free one with --port")


def serve(app: Dash, port: int) -> None:
    """Serve until stopped, reachable from this machine only."""
    Thread(target=app.server.extensions["qc-answers"].warm, daemon=True).start()
    logging.getLogger("waitress.queue").setLevel(logging.ERROR)
    serve_forever(app.server, host=HOST, port=port, threads=THREADS, ident=None, max_request_body_size=2**29)

"""What stands around every page: where to go, units, store and revision; and the head of a printed page."""

from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import dash_mantine_components as dmc
from dash import dcc, html
from dash.development.base_component import Component

from dashboard import ids
from dashboard.answers import Answers
from dashboard.components import address, plain
from dashboard.theme.drawing import FONT

PLACES = (
    (address.FLOOR, "Floor"),
    (address.SERIES, "Series"),
    (address.MONTH, "Month"),
    (address.BUILDS, "Builds"),
    (address.WAITING, "Waiting for you"),
)


def navigation(here: str | None) -> list[Component]:
    """The pages, the present one marked."""
    return [
        dcc.Link(
            name,
            href=path,
            className="here" if path == here else "",
            id=f"to-{name.lower().replace(' ', '-')}",
        )
        for path, name in PLACES
    ]


def bones() -> Component:
    """Lines where a page will stand, before its answer is there."""
    return html.Div(
        [
            html.P("Working the figures out from the readings.", className="bone words"),
            html.Div(className="bone head"),
        ]
        + [html.Div(className="bone") for _ in range(5)],
        className="bones",
    )


def called(answers: Answers) -> str:
    """What the store is called: its file's name, or its address."""
    place = answers.place
    return place if "://" in place else Path(place).name


def shop(answers: Answers) -> str:
    """The shop's name for a printed page."""
    return answers.settings().get("name") or answers.settings().get("shop") or called(answers)


def revision(answers: Answers) -> str:
    """Which store, and its newest revision."""
    return f"{called(answers)}, revision {answers.revision()}"


def printed(answers: Answers) -> str:
    """Head of a printed page: shop, date, revision."""
    now = datetime.now(ZoneInfo(answers.zone()))
    return f"{shop(answers)}, printed {now:%Y-%m-%d %H:%M}, revision {answers.revision()}"


def layout(answers: Answers) -> Component:
    """The frame; the page itself comes with the first answer."""
    framed: Component = dmc.MantineProvider(
        [
            dcc.Location(id=ids.ADDRESS, refresh="callback-nav"),
            dcc.Store(id=ids.CHANGED, data=0),
            html.A("Skip to the page", href="#page", className="skip"),
            html.Div(printed(answers), id=ids.PRINTED_HEAD, className="printed-head"),
            html.Header(
                [
                    html.Nav(navigation(None), id=ids.NAVIGATION, **plain.named("Pages")),
                    dmc.SegmentedControl(
                        id=ids.UNITS,
                        value=answers.units(),
                        size="sm",
                        data=[
                            {"value": "metric", "label": "µm and mm"},
                            {"value": "inch", "label": "tenths and in"},
                        ],
                    ),
                ],
                className="top",
            ),
            html.Main(bones(), id=ids.PAGE, tabIndex="-1"),
            html.Div(revision(answers), id=ids.REVISION, className="store"),
        ],
        defaultColorScheme="auto",
        theme={"fontFamily": FONT, "primaryColor": "dark", "defaultRadius": 2, "respectReducedMotion": True},
    )
    return framed

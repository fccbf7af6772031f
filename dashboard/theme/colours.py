"""Colours by what they mean, and their pairs in the dark scheme and in print.

The palette is Okabe and Ito's, "Color Universal Design" (2008), with lighter pairs on dark paper. Figures
are built in the light colours and the style sheet swaps each for its pair: one figure for all three.
"""

from typing import Final

INK: Final = "#1B1F23"
PAPER: Final = "#FCFCFA"
MUTED: Final = "#5A616B"
RULE: Final = "#D9D8D2"
BAND: Final = "#F0EFE9"
EDGE: Final = "#DDDBD1"  # the soft edge where the gauge cannot tell
DATA: Final = "#0072B2"
PERSON: Final = "#D55E00"  # what needs a person
EVENT: Final = "#009E73"
LIMIT: Final = "#6B7078"
FORECAST: Final = "#56B4E9"
PALE: Final = "#9CC3DC"  # data that stands behind

# light -> (dark, print)
PAIRS: Final[dict[str, tuple[str, str]]] = {
    INK: ("#E6E4DF", "#000000"),
    PAPER: ("#15181B", "#FFFFFF"),
    MUTED: ("#A2A6AC", "#333333"),
    RULE: ("#33383D", "#999999"),
    BAND: ("#1F2429", "#F2F2F2"),
    EDGE: ("#30363C", "#DDDDDD"),
    DATA: ("#58A9DD", "#000000"),
    PERSON: ("#F08A3C", "#000000"),
    EVENT: ("#2FBF94", "#333333"),
    LIMIT: ("#8F959C", "#444444"),
    FORECAST: ("#56B4E9", "#666666"),
    PALE: ("#2E5D7C", "#888888"),
}
CLASSES: Final[dict[str, str]] = {
    INK: "ink",
    PAPER: "paper",
    MUTED: "muted",
    RULE: "rule",
    BAND: "band",
    EDGE: "edge",
    DATA: "data",
    PERSON: "person",
    EVENT: "event",
    LIMIT: "limit",
    FORECAST: "forecast",
    PALE: "pale",
}


def rgb(colour: str) -> str:
    """`rgb(0, 114, 178)` of `#0072B2`, as a browser writes it."""
    red, green, blue = (int(colour[i : i + 2], 16) for i in (1, 3, 5))
    return f"rgb({red}, {green}, {blue})"


def luminance(colour: str) -> float:
    """Relative luminance of a colour. Source: WCAG 2.1, "relative luminance"."""

    def channel(value: int) -> float:
        part = value / 255
        return part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4

    red, green, blue = (channel(int(colour[i : i + 2], 16)) for i in (1, 3, 5))
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    """Contrast ratio of two colours, 1 to 21. Source: WCAG 2.1, "contrast ratio"."""
    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


def figure_css() -> str:
    """Style rules that swap every colour of a figure for its pair in the dark scheme and in print."""

    def rules(which: int) -> str:
        return "\n".join(
            f'.js-plotly-plot [style*="{prop}: {rgb(light)}"] {{ {prop}: {pair[which]} !important; }}'
            for light, pair in PAIRS.items()
            for prop in ("fill", "stroke")
        )

    night, paper = rules(0), rules(1)
    return f"@media screen and (prefers-color-scheme: dark) {{\n{night}\n}}\n@media print {{\n{paper}\n}}\n"


def drawing_css(names: frozenset[str]) -> str:
    """Style rules inside a drawn picture for the colours it uses, by day and by night."""

    def rules(night: bool) -> str:
        return "".join(
            f".{name}{{fill:{shade}}}.{name}-line{{stroke:{shade};fill:none}}"
            for colour, name in CLASSES.items()
            if name in names
            for shade in (PAIRS[colour][0] if night else colour,)
        )

    dark = f"@media screen and (prefers-color-scheme:dark){{{rules(True)}}}"
    return rules(False) + dark + "text{font-family:system-ui,sans-serif;font-variant-numeric:tabular-nums}"

"""What all figures have in common: type, sizes, axes."""

from typing import Any, Final

from dashboard.theme.colours import INK, MUTED, PAPER, RULE

FONT: Final = "system-ui, -apple-system, 'Segoe UI', Roboto, 'Helvetica Neue', Arial, sans-serif"
CONFIG: Final[Any] = {"displayModeBar": False, "scrollZoom": False, "doubleClick": "reset", "showTips": False}


def base(height: int, **more: Any) -> dict[str, Any]:
    """Layout of a figure on the page's own paper."""
    return {
        "height": height,
        "margin": {"l": 8, "r": 8, "t": 8, "b": 8},
        "paper_bgcolor": "rgba(0,0,0,0)",
        "plot_bgcolor": "rgba(0,0,0,0)",
        "font": {"family": FONT, "size": 12, "color": INK},
        "showlegend": False,
        "hovermode": "closest",
        "dragmode": False,
        "hoverlabel": {
            "bgcolor": PAPER,
            "bordercolor": RULE,
            "font": {"family": FONT, "size": 13, "color": INK},
            "align": "left",
        },
        "template": None,
        **more,
    }


def axis(**more: Any) -> dict[str, Any]:
    """An axis without grid or box."""
    return {
        "showgrid": False,
        "zeroline": False,
        "showline": False,
        "fixedrange": True,
        "tickfont": {"size": 12, "color": MUTED},
        "ticks": "",
        "tickangle": 0,
        **more,
    }

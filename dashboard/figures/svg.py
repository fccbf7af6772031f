"""A drawn picture as an image: numbers in, elements out, no library, the same bytes every time."""

import re
from base64 import b64encode
from html import escape

from dashboard.theme.colours import drawing_css

_CLASS = re.compile(r'class="([a-z]+)(?:-line)?"')


def element(name: str, text: str | None = None, **attributes: object) -> str:
    """One element; `class_` is written `class`, underscores in names are dashes, numbers are short."""
    said = "".join(
        f' {key.rstrip("_").replace("_", "-")}="{escape(_short(value))}"'
        for key, value in attributes.items()
        if value is not None
    )
    return f"<{name}{said}/>" if text is None else f"<{name}{said}>{escape(text)}</{name}>"


def _short(value: object) -> str:
    return f"{value:.2f}".rstrip("0").rstrip(".") if isinstance(value, float) else str(value)


def image(width: float, height: float, parts: list[str]) -> str:
    """Data address of a picture of this size, in the colours of the scheme it is shown under."""
    body = "".join(parts)
    css = drawing_css(frozenset(_CLASS.findall(body)))
    wide, high = _short(float(width)), _short(float(height))
    drawn = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {wide} {high}" width="{wide}" height="{high}">'
        f"<style>{css}</style>{body}</svg>"
    )
    return "data:image/svg+xml;base64," + b64encode(drawn.encode()).decode()

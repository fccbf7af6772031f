"""An answer as JSON: floats in full, null and never NaN, the same bytes for the same answer."""

import json
from typing import Any


def text(document: Any) -> str:
    """JSON of a document, indented, with a line end."""
    return json.dumps(document, ensure_ascii=False, allow_nan=False, indent=2) + "\n"


def compact(value: Any) -> str:
    """JSON of a value on one line."""
    return json.dumps(value, ensure_ascii=False, allow_nan=False, separators=(",", ":"))

"""An answer to a file, in the form its name ends with."""

import os
import tempfile
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Final

from qc.errors import FileError, QuestionError
from qc.export import csv, json, xlsx

FORMS: Final = (".json", ".csv", ".xlsx")


def answer(document: Mapping[str, Any], place: Path) -> None:
    """Write an answer whole or not at all.

    Raises
    ------
    QuestionError
        For an ending that names no form.
    FileError
        When the place cannot be written.
    """
    form = place.suffix.lower()
    if form == ".pdf":
        raise QuestionError(
            f"{place.name}: no report is written as PDF yet: take .json, .csv or .xlsx, or print the page"
        )
    if form not in FORMS:
        raise QuestionError(f"{place.name}: the ending tells the form: write .json, .csv or .xlsx")
    if form == ".xlsx":
        content = xlsx.content(document)
    else:
        content = (csv if form == ".csv" else json).text(document).encode("utf-8")
    whole(content, place)


def whole(content: bytes, place: Path) -> None:
    """Put a file in place by its name at the last moment, so that nobody meets half of one.

    Raises
    ------
    FileError
        When the place cannot be written.
    """
    try:
        handle, draft = tempfile.mkstemp(dir=place.parent, prefix=f".{place.name}.")
        try:
            with os.fdopen(handle, "wb") as out:
                out.write(content)
            Path(draft).chmod(0o644)
            Path(draft).replace(place)
        finally:
            Path(draft).unlink(missing_ok=True)
    except OSError as trouble:
        raise FileError(f"{place} cannot be written ({trouble.strerror}): name another place") from trouble

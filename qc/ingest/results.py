"""What became of files, as every face tells it."""

from dataclasses import dataclass, field
from typing import Any

from qc.records import FileStatus, Finding


@dataclass(frozen=True, slots=True)
class FileResult:
    """What became of one file; rows = kept + held + already_kept."""

    file: str
    sha256: str | None
    kind: str | None
    status: FileStatus
    rows: int = 0
    kept: int = 0
    held: int = 0
    already_kept: int = 0
    findings: list[dict[str, Any]] = field(default_factory=list)

    def document(self) -> dict[str, Any]:
        """The result as the JSON contract has it."""
        return {
            "file": self.file, "sha256": self.sha256, "kind": self.kind, "status": self.status,
            "rows": self.rows,
            "kept": self.kept, "held": self.held, "already_kept": self.already_kept,
            "findings": self.findings,
        }  # fmt: skip


@dataclass(frozen=True, slots=True)
class Ingested:
    """What became of every file, in the order in which they were taken in."""

    files: list[FileResult]

    @property
    def waits(self) -> bool:
        """Whether something is held, so that the command ends with 1."""
        return any(one.status in ("held", "part_held") for one in self.files)


def finding_document(number: int | None, finding: Finding) -> dict[str, Any]:
    """A finding as the JSON contract has it, nothing decided yet."""
    return {
        "id": number, "severity": finding.severity, "code": finding.code, "count": finding.size,
        "cells": [
            {"sheet": c.sheet, "row": c.row, "column": c.column, "text": c.text} for c in finding.cells[:200]
        ],
        "saw": finding.saw, "doubt": finding.doubt, "proposal": finding.proposal, "effect": finding.effect,
        "decided": None,
    }  # fmt: skip


def whole_file_held(sentence: str) -> Finding:
    """The finding about a file of which nothing can be read."""
    said = sentence[:1].upper() + sentence[1:]
    return Finding(
        "stop", "file_not_read", (), f"{said}.", "So nothing in it can be trusted.",
        "Put the file right and take it in again; discard to forget about this one.",
        "Nothing of it is in the figures.",
    )  # fmt: skip


def status_of(*, kept: int, held: int, already_kept: int, waits: bool = False) -> FileStatus:
    """A file's status from the numbers of its rows, and whether something waits that is no row."""
    if held or waits:
        return "part_held" if kept or already_kept else "held"
    return "kept" if kept else "already_kept"

"""Characteristics that an operation has never brought before: perhaps another one was meant."""

from collections.abc import Iterator, Mapping
from typing import Final

from qc import catalogue
from qc.ingest.plausible.past import word_of
from qc.ingest.plausible.scene import Scene, Suspicion

CODES: Final = ("wrong_characteristic",)
RIVALS: Final = True
_OLD: Final = 300  # readings that make an operation's usual characteristics known
_USUAL: Final = 40  # readings of a characteristic that it brings for certain


def doubts(scene: Scene) -> Iterator[Suspicion]:
    """Yield one suspicion for each characteristic that is new to an operation of long standing."""
    new = dict.fromkeys(s[1:3] for s in scene.series if s[2] != "master_check" and not scene.past(s))
    there = scene.groups(("operation", "characteristic")) if new else {}
    for operation, characteristic in new:
        usual = scene.usual(operation)
        if characteristic not in usual and sum(usual.values()) >= _OLD:
            yield _suspicion(scene, operation, characteristic, there[operation, characteristic], usual)


def _suspicion(
    scene: Scene, operation: str, characteristic: str, rows: list[int], usual: Mapping[str, int]
) -> Suspicion:
    there = {k for k, n in usual.items() if n >= _USUAL}
    likely = _missing(scene, operation, rows, there)
    names = ", ".join(catalogue.said(k) for k in sorted(there)[:6])
    proposal = (
        f"Is it {catalogue.said(likely)}? Correct takes {likely}; "
        if likely
        else "Correct the characteristic; "
    )
    return Suspicion(
        tuple(rows), "wrong_characteristic", "ask", f"{operation}|{characteristic}",
        "{who}: " + f"{catalogue.said(characteristic)} is entered after {catalogue.said(operation)}.",
        f"That work has brought {names} so far, never {catalogue.said(characteristic)}.",
        proposal + f"accept keeps it as {catalogue.said(characteristic)}.",
        proposed=dict.fromkeys(rows, likely) if likely else {}, column="characteristic",
    )  # fmt: skip


def _missing(scene: Scene, operation: str, rows: list[int], usual: set[str]) -> str:
    """The one characteristic the operation usually brings of such features and that this file lacks."""
    c = scene.columns
    words = {word_of(c["feature"][i]) for i in rows}
    brought = {
        k
        for k, o in zip(c["characteristic"].tolist(), c["operation"].tolist(), strict=True)
        if o == operation
    }
    kind = catalogue.CATALOGUE[c["characteristic"][rows[0]]].kind
    left = [
        k for k in usual - brought
        if catalogue.CATALOGUE[k].kind == kind and words <= _features(scene, operation, k)
    ]  # fmt: skip
    return left[0] if len(left) == 1 else ""


def _features(scene: Scene, operation: str, characteristic: str) -> set[str]:
    """Sorts of features of a characteristic: of its entry, as files write them."""
    sampled = catalogue.CATALOGUE[characteristic].sampled_by
    words = {"bore": "cyl", "main": "main", "rod": "rod", "journal": "main", "pin": "rod", "shell": "main",
             "piston": "cyl", "deck": "deck", "block": "whole"}  # fmt: skip
    return {words.get(sampled, sampled)}

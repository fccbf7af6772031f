"""What is told after files were taken in: what changed, and the notices. Never a reason to refuse them."""

from typing import Any

from qc.errors import QcError
from qc.notify import notices
from qc.reports import changes


class Watch:
    """Looks at the shop before files are taken in, and again after all of them."""

    def __init__(self, store: Any, *, by: str) -> None:
        self._store, self._by = store, by
        self._before: dict[str, Any] | None = None
        self._refusal: QcError | None = None
        self._revision = store.revision()
        try:
            self._before = changes.told_before(store)
        except QcError as refusal:
            self._refusal = refusal

    def told(self) -> dict[str, Any]:
        """`changed` and `notices`; where one cannot be had, the reason under `not_given`."""
        told: dict[str, Any] = {"changed": [], "notices": None, "not_given": {}}
        if self._refusal is None and self._store.revision() == self._revision:
            return told
        try:
            if self._refusal is not None:
                raise self._refusal
            told["changed"] = changes.changed(self._store, self._before, by=self._by)
        except QcError as refusal:
            return {**told, "changed": None, "not_given": {"changed": changes.refused(refusal)}}
        return {**told, **sent(self._store, by=self._by)}


def sent(store: Any, *, by: str) -> dict[str, Any]:
    """Notices that went out, as part of a document; null where the shop has not set them up."""
    try:
        found = notices.send(store, by=by)
    except QcError as refusal:
        return {"notices": None, "not_given": {"notices": f"no notice could be sent: {refusal}"}}
    if found is None:
        return {"notices": None, "not_given": {}}
    return {
        "notices": found.document(), "not_given": {"notices": found.refusal} if found.refusal else {},
    }  # fmt: skip

"""What new files changed: conditions, matters, notices. Told after the files, never a reason to refuse."""

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from qc.errors import QcError

if TYPE_CHECKING:
    from qc.store import Store

Document = Mapping[str, Any]


class Watch:
    """Looks at the shop before files are taken in, and again after all of them."""

    def __init__(self, store: "Store", *, by: str) -> None:
        from qc.reports import changes

        self._store, self._by = store, by
        self._before: dict[str, Any] | None = None
        self._refusal: str | None = None
        self._revision = store.revision()
        try:
            self._before = changes.told_before(store)
        except QcError as refusal:
            self._refusal = str(refusal)

    def told(self) -> dict[str, Any]:
        """What changed and what was sent; where that cannot be worked out the reason, under `not_given`."""
        from qc.reports import changes

        if self._refusal is None and self._store.revision() == self._revision:
            return {"changed": [], "notices": None, "not_given": {}}
        try:
            if self._refusal is not None:
                raise QcError(self._refusal)
            rows = changes.changed(self._store, self._before, by=self._by)
        except QcError as refusal:
            return {"changed": None, "notices": None, "not_given": {"changed": changes.refused(refusal)}}
        return {"changed": rows, "notices": None, "not_given": {}}


def printed(document: Document) -> None:
    """Print what changed, a line each."""
    import click

    from qc.cli.printed import said

    if "changed" not in document:
        return
    for why in document["not_given"].values():
        click.echo(why, err=True)
    if document["changed"]:
        from qc.reports import changes

        for line in changes.lines(document["changed"]):
            said(line)

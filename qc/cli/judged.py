"""What new files changed, on a terminal."""

from collections.abc import Mapping
from typing import Any

import click


def printed(document: Mapping[str, Any]) -> None:
    """Print what changed, a line each, and the notices that went out."""
    from qc.cli.printed import said

    if "changed" not in document:
        return
    if document["changed"]:
        from qc.reports import changes

        for line in changes.lines(document["changed"]):
            said(line)
    notices(document)


def notices(document: Mapping[str, Any]) -> None:
    """Print how many notices went out, and why others did not."""
    from qc.cli.printed import said
    from qc.reports.words import whole

    gone = (document["notices"] or {}).get("sent") or ()
    if gone:
        click.echo(f"{len(gone)} {'notice' if len(gone) == 1 else 'notices'} sent")
    for why in document["not_given"].values():
        said(whole(why))

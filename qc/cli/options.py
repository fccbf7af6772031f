"""The options that commands share, and what they mean."""

import getpass
import os
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import click

from qc.errors import QuestionError

if TYPE_CHECKING:
    from qc.records import Asked
    from qc.store import Store

FILTERS: Final = (
    "machine", "operation", "characteristic", "method", "state", "feature", "engine", "build", "gauge"
)  # fmt: skip
Command = Callable[..., Any]


@dataclass(frozen=True, slots=True)
class Given:
    """What a person gave of the shared options."""

    store: str
    json: bool
    by: str
    as_of: str | None = None
    out: Path | None = None
    filters: dict[str, object] = field(default_factory=dict)

    @contextmanager
    def opened(self, *, create: bool = False) -> Iterator["Store"]:
        """Open the store, and close it again whatever happens."""
        from qc.store import Store
        from qc.store.dated import Daily

        store = Store.open(self.store, create=create)
        store.before_write = Daily(lambda sentence: click.echo(sentence, err=True))
        try:
            yield store
        finally:
            store.close()

    def question(self, store: "Store") -> "Asked":
        """Filters of the question as times and keys, and the revision it is asked at."""
        from qc.reports import question

        return question.asked(store, {**self.filters, "as_of": self.as_of})

    def told_as_json(self, document: Mapping[str, Any]) -> bool:
        """Print the document where one is asked for; whether it was."""
        if self.json:
            from qc.export import json

            click.echo(json.text(document), nl=False)
        return self.json


def zone(store: "Store") -> str:
    """Name of the shop's time zone: its setting, at first that of this machine."""
    from qc.history.zone import shop_zone

    return str(shop_zone(store.settings()))


def whoever() -> str:
    """Name of the system's user, or "unknown" where the system does not tell."""
    try:
        return getpass.getuser()
    except (KeyError, OSError, ImportError):
        return "unknown"


def stacked(options: Sequence[Callable[[Command], Command]]) -> Callable[[Command], Command]:
    """Several options as one decorator, shown in this order."""

    def decorate(command: Command) -> Command:
        for option in reversed(options):
            command = option(command)
        return command

    return decorate


_STORE = click.option(
    "--store", metavar="PATH|URL", envvar="QC_STORE", default="shop.db",
    show_default="QC_STORE, else shop.db here",
    help="The store: a file, or the URL of a PostgreSQL database.",
)  # fmt: skip
_JSON = click.option(
    "--json", "as_json", is_flag=True, help="One JSON document on stdout, nothing else there."
)
_BY = click.option("--by", metavar="NAME", help="Who does it (the system's user).")
_AS_OF = click.option(
    "--as-of", metavar="REVISION|TIME", help="The store as it stood at a revision's number or at a time."
)
_OUT = click.option(
    "--out", metavar="FILE", type=click.Path(dir_okay=False, path_type=Path),
    help="Write the answer to a file: .json, .csv or .xlsx.",
)  # fmt: skip
_WHEN = {
    "since": "From this day or month on (2026-05-04, 2026-05).",
    "until": "Up to this day or month, included.",
}

because = click.option("--reason", required=True, help="Why, in your words; it is kept for ever.")
shared = stacked([_STORE, _JSON, _BY])
asks = stacked([
    _STORE, _JSON, _BY, _AS_OF, _OUT,
    *(click.option(f"--{name}", name, multiple=True, metavar="NAME", help=f"Only this {name} (repeatable).")
      for name in FILTERS),
    *(click.option(f"--{name}", name, metavar="WHEN", help=text) for name, text in _WHEN.items()),
])  # fmt: skip


def given(options: dict[str, Any]) -> Given:
    """Take the shared options out of a command's own and put them together."""
    filters: dict[str, object] = {}
    for name in (*FILTERS, *_WHEN):
        value = options.pop(name, None)
        if value:
            filters[name] = list(value) if isinstance(value, tuple) else value
    return Given(
        store=options.pop("store"),
        json=options.pop("as_json"),
        by=options.pop("by", None) or whoever(),
        as_of=options.pop("as_of", None),
        out=options.pop("out", None),
        filters=filters,
    )


def has_words(reason: str) -> None:
    """Refuse a reason that says nothing.

    Raises
    ------
    QuestionError
    """
    if not reason.strip():
        raise QuestionError("this needs a reason: say why in a few words")


def store_in_environment() -> str | None:
    """Place of the shop's store as the environment names it, None where it does not."""
    return os.environ.get("QC_STORE") or None

"""An audit pack recomputed from the pack alone: what agrees, and what does not."""

import json
from collections.abc import Iterator, Mapping
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any, Final

from qc import __version__
from qc.errors import FileError, QcError
from qc.export import archive, lookup, pack, packed, recount
from qc.export.differences import differences

Entries = Mapping[str, bytes | None]
_MANIFEST: Final = "manifest.json"
_STUMBLES: Final = (QcError, KeyError, TypeError, ValueError, AttributeError, IndexError, ArithmeticError)
# words that another version may say otherwise about the same figures
_PROSE: Final = ("sentence", "why", "words", "methods", "not_given", "cautions", "reason")
_MOST_SAID: Final = 200  # disagreements of one answer that are listed


@dataclass(frozen=True, slots=True)
class Check:
    """One comparison: what, in which file of the pack, what was expected there and what was found."""

    what: str
    file: str
    expected: Any
    found: Any
    agrees: bool


def answer(place: Path) -> dict[str, Any]:
    """Whether a pack agrees with itself.

    Parameters
    ----------
    place : Path
        The .zip that qc audit wrote.

    Returns
    -------
    dict
        `agree` and the `checks`: content of every file, every reading's text in its file, every answer
        worked out
        again from the tables, the audit figures once more by plain arithmetic.

    Raises
    ------
    FileError
        When it is no whole pack, or could do harm.
    """
    entries = archive.read(place)
    manifest = _manifest(place, entries)
    checks = list(_contents(entries, manifest))
    for part in (_recomputed, lookup.checks, recount.checks):
        try:
            checks += [one if isinstance(one, Check) else Check(*one) for one in part(entries, manifest)]
        except _STUMBLES as fault:
            # whatever a stranger's tables make the calculation stumble over disagrees; the rest is still
            # checked
            checks.append(Check("can be recomputed", place.name, "tables as they were", _told(fault), False))
    agree = all(one.agrees for one in checks)
    return {
        "answer": "verify", "version": 1, "revision": manifest["revision"], "asked": manifest["asked"],
        "zone": manifest["zone"], "cautions": _cautions(manifest), "agree": agree,
        "checks": [asdict(one) for one in checks],
    }  # fmt: skip


def _told(fault: Exception) -> str:
    return str(fault) if isinstance(fault, QcError) else f"{type(fault).__name__}: {fault}"


def _cautions(manifest: Mapping[str, Any]) -> list[str]:
    if manifest.get("version") == __version__:
        return []
    return [f"the pack was made by version {manifest.get('version')}, this is {__version__}"]


def _manifest(place: Path, entries: Entries) -> dict[str, Any]:
    data = entries.get(_MANIFEST)
    try:
        told = json.loads((data or b"").decode("utf-8"))
        wanted = {"files", "revision", "asked", "zone"}
        good = isinstance(told, dict) and wanted <= set(told) and isinstance(told["revision"], int)
        listed = good and all({"name", "sha256"} <= set(one) for one in told["files"])
    except (ValueError, TypeError) as error:
        raise FileError(
            f"{place} has no readable {_MANIFEST}: it is no audit pack, ask for it again"
        ) from error
    if not listed:
        raise FileError(f"{place} has no whole {_MANIFEST}: it is no audit pack, ask for it again")
    return dict(told)


def _contents(entries: Entries, manifest: Mapping[str, Any]) -> Iterator[Check]:
    """Compare the SHA-256 of each content with the manifest; nothing more and nothing less may be there."""
    listed = {one["name"]: one["sha256"] for one in manifest["files"]}
    for name, digest in sorted(listed.items()):
        if name not in entries:
            yield Check("is in the pack", name, digest, None, False)
            continue
        data = entries[name]
        found = "damaged" if data is None else archive.sha256(data)
        yield Check("SHA-256", name, digest, found, found == digest)
    for name in sorted(set(entries) - set(listed) - {_MANIFEST}):
        yield Check("is listed in the manifest", name, "listed", "not listed", False)


def _recomputed(entries: Entries, manifest: Mapping[str, Any]) -> Iterator[Check]:
    """Work out every answer and every derived table again, from the tables of the pack."""
    from qc.reports import question

    store = packed.PackedStore(entries, _digest(entries), manifest["revision"])
    options = {name: value for name, value in dict(manifest["asked"]).items() if name != "as_of"}
    asked = question.asked(store, options)
    said = [name for name in entries if name.startswith("answers/") and name.endswith(".json")]
    months = sorted(n[len("answers/month-") : -len(".json")] for n in said if n.startswith("answers/month-"))
    again = pack.answered(store, asked, months)
    ignored = ("asked",) if manifest.get("version") == __version__ else ("asked", *_PROSE)
    for name, document in again.items():
        yield from _answer(f"answers/{name}.json", entries, document, ignored)
        told = packed.document(entries, f"answers/{name}.json")
        yield from _table(f"answers/{name}.csv", entries, pack.answer_csv(told))
    for name in sorted(set(said) - {f"answers/{one}.json" for one in again}):
        yield Check("is an answer that can be recomputed", name, "known", "unknown", False)
    rows = pack.reading_rows(store, manifest["revision"])
    yield from _table("readings.csv", entries, pack.readings_csv(rows))
    yield from _table("bores.csv", entries, pack.bores_csv(store, manifest["revision"], rows))


def _answer(
    name: str, entries: Entries, again: Mapping[str, Any], ignored: tuple[str, ...]
) -> Iterator[Check]:
    told = packed.document(entries, name)
    wrong = list(differences(again, told, ignore=ignored))
    for where, expected, found in wrong[:_MOST_SAID]:
        # what the pack says is expected; what comes out of its own readings is found
        yield Check(f"recomputed {where}", name, found, expected, False)
    if not wrong:
        yield Check("every figure recomputed from the readings", name, "as told", "as told", True)


def _table(name: str, entries: Entries, again: str) -> Iterator[Check]:
    told, made = packed.table(entries, name), packed.table({name: again.encode("utf-8")}, name)
    wrong = list(differences(made, told, texts_are_numbers=True))
    for where, expected, found in wrong[:_MOST_SAID]:
        yield Check(f"recomputed {where}", name, found, expected, False)
    if not wrong:
        yield Check("every row recomputed", name, len(told), len(made), True)


def _digest(entries: Entries) -> str:
    return archive.sha256(
        "".join(sorted(f"{n}:{archive.sha256(d or b'')}" for n, d in entries.items())).encode()
    )

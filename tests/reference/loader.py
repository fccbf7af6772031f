"""Every check against numbers that came from elsewhere, read from the case files beside this module.

Two shapes of case file are read:

* files that name their own subject: `{"subject", "kind", "source", "cases": [{"inputs", "outputs",
  "atol"}]}`;
* files of retrieved data in their own shape, left as they came. `subjects/NAME.toml` says for each which
  function it checks, how its digits were had and how near they must be met; the function `check` of
  `checks/NAME.py` turns the case into triples (what, figure of ours, expected).
"""

import importlib
import importlib.util
import json
import math
import tomllib
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

HERE = Path(__file__).parent
KINDS = ("published", "certified", "computed", "common_practice", "from_memory")
Triple = tuple[str, float, float]


@dataclass(frozen=True, slots=True)
class Check:
    """One comparison of functions of ours with one case of a source."""

    id: str
    subjects: tuple[str, ...]
    kind: str
    source: str
    triples: Callable[[], Iterable[Triple]]
    atol: float
    rtol: float

    def misses(self) -> list[str]:
        """Return one sentence for each figure that is not met; refuses a case that compares nothing."""
        found = list(self.triples())
        if not found:
            raise AssertionError(f"{self.id} compares nothing")
        return [
            f"{what}: expected {expected!r}, got {ours!r}"
            for what, ours, expected in found
            if not math.isclose(ours, expected, rel_tol=self.rtol, abs_tol=self.atol)
        ]


def named(path: str) -> Any:
    """Return the object of a dotted path."""
    module, _, name = path.rpartition(".")
    try:
        return getattr(importlib.import_module(module), name)
    except ModuleNotFoundError:
        return getattr(named(module), name)


def checks() -> Iterator[Check]:
    """Yield every check of both shapes."""
    yield from _of_their_own_subject()
    for subjects in sorted((HERE / "subjects").glob("*.toml")):
        yield from _listed(subjects)


def _listed(subjects: Path) -> Iterator[Check]:
    adapters = _module(HERE / "checks" / f"{subjects.stem}.py")
    for entry in tomllib.loads(subjects.read_text(encoding="utf-8"))["case"]:
        case = json.loads((HERE / f"{entry['id']}.json").read_text(encoding="utf-8"))
        adapter = getattr(adapters, entry["check"])
        yield Check(
            id=f"{entry['id']}:{entry['check']}",
            subjects=tuple(entry["subjects"]),
            kind=entry["kind"],
            source=case["source"],
            triples=lambda adapter=adapter, case=case: adapter(case),
            atol=entry.get("atol", 0.0),
            rtol=entry.get("rtol", 0.0),
        )


def _of_their_own_subject() -> Iterator[Check]:
    for file in sorted(HERE.glob("*.json")):
        document = json.loads(file.read_text(encoding="utf-8"))
        if "subject" not in document:
            continue
        for number, case in enumerate(document["cases"], start=1):
            for key, expected in case["outputs"].items():
                yield Check(
                    id=f"{file.stem}:{number}:{key}",
                    subjects=(document["subject"],),
                    kind=document["kind"],
                    source=document["source"],
                    triples=lambda d=document, c=case, k=key, e=expected: _flat(k, _answer(d, c, k), e),
                    atol=case["atol"][key] if isinstance(case["atol"], dict) else case["atol"],
                    rtol=0.0,
                )


def _answer(document: dict[str, Any], case: dict[str, Any], key: str) -> Any:
    answer = named(document["subject"])(**case["inputs"])
    return answer if key == "value" else getattr(answer, key)


def _flat(what: str, ours: Any, expected: Any) -> Iterator[Triple]:
    if isinstance(expected, list):
        assert len(ours) == len(expected), f"{what}: {len(expected)} expected, {len(ours)} given"
        for place, (one, other) in enumerate(zip(ours, expected, strict=True)):
            yield from _flat(f"{what}[{place}]", one, other)
    else:
        yield what, float(ours), float(expected)


def _module(file: Path) -> Any:
    spec = importlib.util.spec_from_file_location(f"reference_checks_{file.stem}", file)
    if spec is None or spec.loader is None:
        raise FileNotFoundError(file)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module

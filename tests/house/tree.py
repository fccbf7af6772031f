"""The project's own source as syntax trees, and the rules of who may import what."""

import ast
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parents[2]

# a name may import any name left of it; names in one set not each other
ORDER: tuple[frozenset[str], ...] = tuple(
    frozenset(group.split())
    for group in (
        "errors", "units", "records", "stats", "derived", "catalogue", "stretches",
        "charts capability drift gauge compare", "store", "history", "ingest", "reports",
        "export", "notify", "cli", "__main__",
    )
)  # fmt: skip
PAGES: tuple[frozenset[str], ...] = tuple(
    frozenset(group.split())
    for group in ("ids answers guard", "theme", "figures", "components", "login pages", "app")
)
RANKS = {f"qc.{name}": i for i, group in enumerate(ORDER) for name in group}
RANKS |= {f"dashboard.{name}": len(ORDER) + i for i, group in enumerate(PAGES) for name in group}

DATABASES = frozenset({"sqlalchemy", "psycopg", "psycopg_pool", "sqlite3"})
DRAWING = frozenset({"plotly"})
WEB = frozenset({"dash", "dash_mantine_components", "dash_ag_grid", "flask", "flask_compress", "waitress"})
OPENERS = frozenset({"qc.ingest", "qc.export", "qc.store", "qc.cli"})
SHOWS_PAGES = {
    "qc.cli": frozenset({"serve", "demo"})
}  # functions that may load the dashboard, inside themselves
FILE_METHODS = frozenset({
    "read_text", "write_text", "read_bytes", "write_bytes", "read_csv", "read_excel", "read_parquet",
    "to_csv", "to_excel", "to_parquet", "savetxt", "loadtxt", "ZipFile",
})  # fmt: skip
OPEN_OF_OTHERS = frozenset({"Store", "webbrowser"})  # `.open` of these opens no file of its caller


@dataclass(frozen=True, slots=True)
class Module:
    """One module: its dotted name and its source."""

    name: str
    source: str

    @property
    def place(self) -> str:
        """The name that has a rank: `qc.store` for qc/store/write.py."""
        return ".".join(self.name.split(".")[:2])


@dataclass(frozen=True, slots=True)
class Import:
    """One import: what, where, and the function it stands in (None at module level)."""

    what: str
    line: int
    function: str | None


def modules(root: Path = ROOT) -> list[Module]:
    """Every module of the product."""
    found = []
    for package in ("qc", "dashboard"):
        for path in sorted((root / package).rglob("*.py")):
            parts = path.relative_to(root).with_suffix("").parts
            name = ".".join(parts[:-1] if parts[-1] == "__init__" else parts)
            found.append(Module(name, path.read_text(encoding="utf-8")))
    return found


def imports(module: Module, package: bool = False) -> Iterator[Import]:
    """Yield every absolute name a module imports; a relative import is reported as it is written."""

    def walk(node: ast.AST, function: str | None) -> Iterator[Import]:
        for child in ast.iter_child_nodes(node):
            inside = function
            if isinstance(child, ast.FunctionDef | ast.AsyncFunctionDef):
                inside = function or child.name
            if isinstance(child, ast.Import):
                yield from (Import(alias.name, child.lineno, inside) for alias in child.names)
            elif isinstance(child, ast.ImportFrom):
                base = "." * child.level + (child.module or "")
                if base in ("qc", "dashboard"):
                    yield from (Import(f"{base}.{alias.name}", child.lineno, inside) for alias in child.names)
                else:
                    yield Import(base, child.lineno, inside)
            yield from walk(child, inside)

    yield from walk(ast.parse(module.source), None)


def faults(module: Module) -> list[str]:
    """One sentence for each rule a module breaks."""
    if module.name in ("qc", "dashboard"):
        return [f"{module.name}: only the version stands in the top package" for _ in imports(module)]
    if module.place not in RANKS:
        return [f"{module.name}: {module.place} has no rank in the import order"]
    found = [fault for one in imports(module) for fault in _import_faults(module, one)]
    if module.place not in OPENERS:
        found += [f"{module.name}:{line}: opens a file ({what})" for what, line in file_calls(module)]
    return found


def _import_faults(module: Module, one: Import) -> Iterator[str]:
    where = f"{module.name}:{one.line}"
    if one.what.startswith("."):
        yield f"{where}: write {one.what} as an absolute import"
        return
    top = one.what.split(".")[0]
    if top in ("qc", "dashboard"):
        yield from _own_faults(module, one, where)
    for names, allowed in ((DATABASES, _may_hold_data), (DRAWING, _may_draw), (WEB, _may_serve)):
        if top in names and not allowed(module.place):
            yield f"{where}: {top} may not be used in {module.place}"


def _own_faults(module: Module, one: Import, where: str) -> Iterator[str]:
    place = ".".join(one.what.split(".")[:2])
    if place in ("qc", "qc.__version__", module.place):
        return
    if place not in RANKS:
        yield f"{where}: {place} has no rank in the import order"
    elif module.name.startswith("qc.") and place.startswith("dashboard."):
        if one.function is None or one.function not in SHOWS_PAGES.get(module.place, ()):
            yield f"{where}: qc does not import dashboard"
    elif RANKS[place] >= RANKS[module.place]:
        yield f"{where}: {module.place} may not import {place}"


def _may_hold_data(place: str) -> bool:
    return place == "qc.store"


def _may_draw(place: str) -> bool:
    return place in ("dashboard.figures", "dashboard.theme")


def _may_serve(place: str) -> bool:
    return place.startswith("dashboard.") and not _may_draw(place)


def file_calls(module: Module) -> Iterator[tuple[str, int]]:
    """Yield each call that opens a file, with its line."""
    for node in ast.walk(ast.parse(module.source)):
        if not isinstance(node, ast.Call):
            continue
        called = node.func
        if isinstance(called, ast.Name) and called.id in {"open", "ZipFile"}:
            yield called.id, node.lineno
        elif isinstance(called, ast.Attribute):
            owner = called.value.id if isinstance(called.value, ast.Name) else ""
            opens = called.attr == "open" and owner not in OPEN_OF_OTHERS
            if opens or called.attr in FILE_METHODS:
                yield called.attr, node.lineno

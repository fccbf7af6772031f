"""Reader of measurement results in QIF 3 (ISO 23952): each measured characteristic a line of a centre list.

Source: ISO 23952 / the published schema of QIF 3.0 (QIFResults.xsd, Units.xsd); the elements of features,
devices, traceability and attributes from memory. Names, nominal, tolerance and unit are looked up by their
ids; what another document holds (`xId`) stays blank and waits. A document without FileUnits is in metres by
the schema and seldom is: its unit is for a layout to say.
Bounds: as `qc.ingest.qif_tree`. `AttributeStr` of results or of an item may tell build, machine, operation,
state and other columns of a readings file.
"""

from collections.abc import Iterator, Mapping
from decimal import ROUND_HALF_EVEN, Decimal, InvalidOperation
from typing import Final

from qc import units
from qc.errors import FileError, NumberError
from qc.ingest.centre_columns import TOLD
from qc.ingest.grid import Grid, bounded
from qc.ingest.kinds import canonical
from qc.ingest.qif_tree import Node, tree

# heads of the columns, in order; of those below the line only what the document tells is there
_HEADS: Final = ("feature", "axis", "nominal", "actual", "tol+", "tol-", "out", "id")
_FACTORS: Final[Mapping[Decimal, str]] = {
    Decimal("0.001"): "mm", Decimal("0.0254"): "in", Decimal("0.000001"): "um",
}  # fmt: skip
_NAMES: Final[Mapping[str, str]] = {
    "mm": "mm", "millimeter": "mm", "millimetre": "mm", "millimeters": "mm", "millimetres": "mm", "in": "in",
    "inch": "in", "inches": "in", "um": "um", "micrometer": "um", "micrometre": "um", "micron": "um",
}  # fmt: skip
_MOST_DECIMALS: Final = 8  # of a written figure: what stands behind is what a computer made of it
_SIZES: Final = {"Diameter": "diameter", "Radius": "radius"}
_MEASUREMENT: Final = "CharacteristicMeasurement"


def claims(head: bytes, name: str) -> bool:
    """Whether a file is ours to read: XML whose root names QIF; the file's name does not matter."""
    for mark in (b"\xef\xbb\xbf", b"\xff\xfe", b"\xfe\xff"):
        head = head.removeprefix(mark)
    text = head.replace(b"\x00", b"").lstrip()  # UTF-16 has a nought beside each letter
    return text[:1] == b"<" and b"QIFDocument" in text


def cells(data: bytes) -> list[Grid]:
    """Cells of the document: a line a measured characteristic, numbered from 2 in its order.

    Raises
    ------
    FileError
        Damaged, of another version, without results, or beyond the bounds.
    """
    document = _Document(tree(data))
    lines = list(document.lines())
    if not lines:
        raise FileError("the QIF document holds no measured characteristic: export results, not the plan")
    told = [c for c in TOLD if any(one.get(c) for one in lines)]
    heads = (*_HEADS, *told)
    rows = tuple((n, tuple(one.get(h, "") for h in heads)) for n, one in enumerate(lines, start=2))
    bounded(len(rows) + 1, len(heads), max(len(t) for _, row in rows for t in row), "the QIF document")
    return [Grid(((1, heads), *rows))]


class _Document:
    """What the document tells, by id."""

    def __init__(self, root: Node) -> None:
        self.root = root
        self.units = _units(root)
        # without a primary unit of length a figure that names none is in metres by the schema: for a layout
        primary = root.first("FileUnits").first("PrimaryUnits").first("LinearUnit")
        self.primary = self.units.get(primary.text("UnitName"), "") if primary.name else ""
        characteristics = root.first("Characteristics")
        self.definitions, self.nominals, self.items = (
            _by_id(characteristics.first(f"Characteristic{part}"))
            for part in ("Definitions", "Nominals", "Items")
        )
        features = root.first("Features")
        self.features = _by_id(features.first("FeatureNominals")) | _by_id(features.first("FeatureItems"))
        self.devices = _by_id(root.first("MeasurementResources").first("MeasurementDevices"))
        self.results = root.first("Results")
        sets = self.results.first("ActualComponentSets").children
        self.parts = {k: n for one in sets for k, n in _by_id(one).items()}

    def lines(self) -> Iterator[dict[str, str]]:
        """Yield texts by the heads of the columns, a line a measured characteristic."""
        for one in self.results.first("MeasurementResultsSet").children:
            shared = self._shared(one)
            measured = one.first("MeasuredCharacteristics").first("CharacteristicMeasurements")
            found = _by_id(one.first("MeasuredFeatures"))
            for figure in measured.children:
                if figure.name.endswith(_MEASUREMENT):
                    yield {**shared, **self._line(figure, found)}

    def _shared(self, results: Node) -> dict[str, str]:
        """What holds for all of one set of results."""
        whole, own = (n.first("InspectionTraceability") for n in (self.results, results))
        told: dict[str, str] = {}
        for trace in (whole, own):
            at = trace.text("InspectionEnd") or trace.text("InspectionStart")
            told |= {"measured_at": at} if at else {}
            who = trace.first("InspectionOperator").text("Name") or trace.text("InspectionOperator")
            told |= {"operator": who} if who else {}
        ids = results.first("ActualComponentIds").texts("Id")
        return told | self._part(ids) | _attributes(results)

    def _part(self, ids: list[str]) -> dict[str, str]:
        """Serial number of the part, where it is one."""
        numbers = {self.parts[i].text("SerialNumber") for i in ids if i in self.parts}
        return {"serial": numbers.pop()} if len(numbers) == 1 else {}

    def _line(self, figure: Node, found: Mapping[str, Node]) -> dict[str, str]:
        link = figure.first("CharacteristicItemId")
        item = Node("") if "xId" in link.attributes else self.items.get(link.said, Node(""))
        nominal = self.nominals.get(item.text("CharacteristicNominalId"), Node(""))
        limits = self.definitions.get(nominal.text("CharacteristicDefinitionId"), Node("")).first("Tolerance")
        value, unit = self._value(figure)
        told = {"id": figure.attributes.get("id", ""), "actual": value, "unit": unit}
        told |= {"feature": self._feature(figure, item, nominal, found), "axis": _axis(figure, item)}
        told |= _sizes(nominal.first("TargetValue"), limits)
        status = figure.first("Status").text("CharacteristicStatusEnum").casefold()
        told |= {"out": status} if status in ("pass", "fail") else {}
        told |= {"measured_at": at} if (at := figure.text("TimeStamp")) else {}
        told |= self._part(figure.texts("ActualComponentId"))
        used = {self.devices.get(i, Node("")).text("Name") for i in _ids(figure, "MeasurementDeviceIds")}
        told |= {"gauge": used.pop()} if len(used) == 1 else {}
        return told | _attributes(item)

    def _value(self, figure: Node) -> tuple[str, str]:
        """The figure as it was meant to be written, and its unit."""
        value = figure.first("Value")
        named = value.attributes.get("linearUnit")
        unit = self.primary if named is None else self.units.get(named, _NAMES.get(named.casefold(), ""))
        return _written(value), unit if value.said else ""

    def _feature(self, figure: Node, item: Node, nominal: Node, found: Mapping[str, Node]) -> str:
        """Name of the one feature it is about: of the item, the nominal, else of the characteristic."""
        ids = _ids(item, "FeatureItemIds")
        measured = [found[i] for i in _ids(figure, "FeatureMeasurementIds") if i in found]
        ids = ids or [i for one in measured for i in one.texts("FeatureItemId")]
        ids = ids or _ids(nominal, "FeatureNominalIds")
        names = {_named(self.features[i]) for i in ids if i in self.features} - {""}
        if len(names) == 1:
            return names.pop()
        return item.text("Name") or item.first("CharacteristicDesignator").text("Designator")


def _by_id(parent: Node) -> dict[str, Node]:
    return {n.attributes["id"]: n for n in parent.children if "id" in n.attributes}


def _ids(node: Node, name: str) -> list[str]:
    """Ids of a list, in it or in the list of ids inside it."""
    listed = node.first(name)
    return listed.texts("Id") + listed.first("Ids").texts("Id")


def _named(feature: Node) -> str:
    return feature.text("FeatureName") or feature.text("Name")


def _attributes(node: Node) -> dict[str, str]:
    """Columns of a readings file that user defined attributes tell."""
    told = {}
    for one in node.first("Attributes").children:
        name = canonical(one.attributes.get("name", ""))
        text = one.attributes.get("value") or one.said
        if name in TOLD and text:
            told[name] = text.strip()
    return told


def _axis(figure: Node, item: Node) -> str:
    """What is measured: diameter, radius, an axis that the name ends with, else the kind as QIF calls it."""
    kind = figure.name.removesuffix(_MEASUREMENT)
    last = item.text("Name").replace("_", " ").replace("-", " ").replace(".", " ").split()[-1:]
    return _SIZES.get(kind) or (last[0].upper() if last and last[0].upper() in ("X", "Y", "Z") else kind)


def _sizes(target: Node, limits: Node) -> dict[str, str]:
    """Nominal and signed tolerances; limits that are sizes are turned into distances from the nominal."""
    nominal = _written(target)
    told = {"nominal": nominal}
    as_sizes = limits.text("DefinedAsLimit") in ("true", "1")
    for head, name in (("tol+", "MaxValue"), ("tol-", "MinValue")):
        told[head] = _written(limits.first(name))
        if told[head] and as_sizes:
            limit, size = _number(told[head]), _number(nominal)
            told[head] = "" if limit is None or size is None else f"{limit - size:f}"
    return told


def _number(text: str) -> Decimal | None:
    try:
        return units.number(text)
    except NumberError:
        return None


def _written(node: Node) -> str:
    """A figure as it was written: 35.011000000000001 is what a computer made of 35.011; no number stays."""
    text, places = node.said, node.attributes.get("decimalPlaces", "")
    number = _number(text)
    if number is None:
        return text
    told = int(places) if places.isascii() and places.isdigit() and len(places) < 3 else None
    exponent = number.as_tuple().exponent
    if told is None and isinstance(exponent, int) and -exponent <= _MOST_DECIMALS:
        return text
    behind = _MOST_DECIMALS if told is None else min(told, _MOST_DECIMALS)
    try:
        short = number.quantize(Decimal(1).scaleb(-behind), ROUND_HALF_EVEN)
    except InvalidOperation:
        return text  # more digits than any size has
    return f"{short if told is not None else short.normalize():f}"


def _units(root: Node) -> dict[str, str]:
    """Our unit of each length unit the document defines; blank for one we do not have.

    Raises
    ------
    FileError
        A unit whose name says another than its factor.
    """
    found: dict[str, str] = {}
    for group in ("PrimaryUnits", "OtherUnits"):
        for one in root.first("FileUnits").first(group).children:
            if one.name != "LinearUnit":
                continue
            name = one.text("UnitName")
            factor = one.first("UnitConversion").text("Factor")
            metres = _number(factor)
            by_factor = None if metres is None else _FACTORS.get(metres.normalize(), "")
            by_name = _NAMES.get(name.casefold())
            if by_name is not None and by_factor is not None and by_name != by_factor:
                raise FileError(
                    f"the QIF document names its unit {name[:20]} and gives it the factor {factor[:20]} to "
                    "metres: one of them is wrong; put it right or export again"
                )
            found[name] = by_name or by_factor or ""
    return found

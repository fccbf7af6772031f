"""Results in QIF 3 as measuring machines write them; nothing of the product is used.

Element names from the published schema of QIF 3.0 (QIFResults.xsd, Units.xsd) and its sample of a plan with
results; those of features, devices, traceability and attributes from memory.
"""

from collections.abc import Mapping, Sequence
from xml.sax.saxutils import escape

SPACE = "http://qifstandards.org/xsd/qif3"
SETUP = {"build": "Q-1", "machine": "line-hone-1", "operation": "line_hone", "state": "caps_torqued"}
FACTORS = {"mm": "0.001", "inch": "0.0254"}
Measured = Mapping[str, str]


def _named(told: Mapping[str, str]) -> str:
    rows = "".join(f'<AttributeStr name="{escape(k)}" value="{escape(v)}"/>' for k, v in told.items())
    return f'<Attributes n="{len(told)}">{rows}</Attributes>' if told else ""


def _units(unit: str, factor: str) -> str:
    if not unit:
        return ""
    told = f"<UnitConversion><Factor>{factor}</Factor></UnitConversion>" if factor else ""
    return (f"<FileUnits><PrimaryUnits><LinearUnit><SIUnitName>meter</SIUnitName><UnitName>{unit}</UnitName>"
            f"{told}</LinearUnit></PrimaryUnits></FileUnits>")  # fmt: skip


def _characteristics(measured: Sequence[Measured]) -> tuple[str, str]:
    """The parts about characteristics and features; ids of the n-th: 100, 200, 300 and 400 more."""
    definitions = nominals = items = features = ""
    for n, one in enumerate(measured, start=1):
        kind = one.get("kind", "Diameter")
        definitions += (
            f'<{kind}CharacteristicDefinition id="{100 + n}"><Tolerance><MaxValue>{one.get("plus", "")}'
            f'</MaxValue><MinValue>{one.get("minus", "")}</MinValue><DefinedAsLimit>'
            f'{one.get("as_limit", "false")}</DefinedAsLimit></Tolerance></{kind}CharacteristicDefinition>'
        )  # fmt: skip
        nominals += (
            f'<{kind}CharacteristicNominal id="{200 + n}"><CharacteristicDefinitionId>{100 + n}'
            f'</CharacteristicDefinitionId><TargetValue>{one.get("target", "")}</TargetValue>'
            f"</{kind}CharacteristicNominal>"
        )  # fmt: skip
        items += (
            f'<{kind}CharacteristicItem id="{300 + n}"><Name>{one.get("name", f"size {n}")}</Name>'
            f'<FeatureItemIds n="1"><Id>{400 + n}</Id></FeatureItemIds><CharacteristicNominalId>{200 + n}'
            f"</CharacteristicNominalId></{kind}CharacteristicItem>"
        )
        features += f'<CylinderFeatureItem id="{400 + n}"><FeatureName>{escape(one["feature"])}</FeatureName>'
        features += "</CylinderFeatureItem>"
    return (
        f"<Features><FeatureItems>{features}</FeatureItems></Features>",
        f"<Characteristics><CharacteristicDefinitions>{definitions}</CharacteristicDefinitions>"
        f"<CharacteristicNominals>{nominals}</CharacteristicNominals><CharacteristicItems>{items}"
        "</CharacteristicItems></Characteristics>",
    )


def _figures(measured: Sequence[Measured]) -> str:
    told = ""
    for n, one in enumerate(measured, start=1):
        kind = one.get("kind", "Diameter")
        unit = f' linearUnit="{one["unit"]}"' if "unit" in one else ""
        places = f' decimalPlaces="{one["places"]}"' if "places" in one else ""
        value = f"<Value{unit}{places}>{one['value']}</Value>" if "value" in one else ""
        told += (
            f'<{kind}CharacteristicMeasurement id="{500 + n}"><Status><CharacteristicStatusEnum>'
            f'{one.get("status", "PASS")}</CharacteristicStatusEnum></Status><CharacteristicItemId'
            f'{one.get("elsewhere", "")}>{300 + n}</CharacteristicItemId><TimeStamp>'
            f'{one.get("at", "2026-05-11T09:30:00")}</TimeStamp><MeasurementDeviceIds n="1"><Id>7</Id>'
            f"</MeasurementDeviceIds>{value}</{kind}CharacteristicMeasurement>"
        )  # fmt: skip
    return told


def document(
    measured: Sequence[Measured], *, unit: str = "mm", factor: str | None = None,
    setup: Mapping[str, str] = SETUP, space: str = SPACE, before: str = "", serial: str = "S-77",
) -> str:  # fmt: skip
    """A document of results; a measured characteristic has feature, value, target, plus, minus, and more."""
    features, characteristics = _characteristics(measured)
    return (
        f'<?xml version="1.0" encoding="UTF-8"?>{before}<QIFDocument xmlns="{space}" versionQIF="3.0.0">'
        f"{_units(unit, FACTORS.get(unit, '') if factor is None else factor)}"
        '<MeasurementResources><MeasurementDevices><UniversalDevice id="7"><Name>cmm-1</Name>'
        f"</UniversalDevice></MeasurementDevices></MeasurementResources>{features}{characteristics}"
        f'<Results><MeasurementResultsSet n="1"><MeasurementResults id="1">{_named(setup)}'
        f"<MeasuredCharacteristics><CharacteristicMeasurements>{_figures(measured)}"
        "</CharacteristicMeasurements></MeasuredCharacteristics><InspectionStatus/><ActualComponentIds>"
        "<Id>9</Id></ActualComponentIds></MeasurementResults></MeasurementResultsSet><ActualComponentSets>"
        f'<ActualComponentSet><ActualComponent id="9"><SerialNumber>{serial}</SerialNumber></ActualComponent>'
        "</ActualComponentSet></ActualComponentSets></Results></QIFDocument>"
    )

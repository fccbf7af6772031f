"""Every characteristic and every event kind: what it is, how it is judged, what renews it.

Characteristics are code, specifications are data: no limit stands here. The families are choices with a
source: sizes, signed forms and offsets normal, magnitudes bounded by zero folded normal or lognormal (common
practice, no source; the index under the nearest other family is printed beside as the price of the choice).
"""

from collections.abc import Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from types import MappingProxyType
from typing import Any, Final, Literal

from qc.errors import InputError

Kind = Literal["length", "angle", "percent", "time"]
Level = Literal["position", "feature", "whole"]
Bounded = Literal["both", "above", "below"]

STATES: Final = ("plate_on", "plate_off", "caps_torqued", "free", "received", "unstated")
OPERATIONS: Final = (
    "receive", "rough_bore", "finish_bore", "hone", "plateau_hone", "deck", "line_bore", "line_hone",
    "rod_hone",
    "journal_grind", "polish", "fit", "check",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class EventKind:
    """An event: `renews` wear (as each characteristic says) or is a `joint`: a step, and wear goes on."""

    key: str
    label: str
    effect: Literal["renews", "joint"]


EVENTS: Final[Mapping[str, EventKind]] = MappingProxyType({
    e.key: e
    for e in (
        EventKind("stones_changed", "stones changed", "renews"),
        EventKind("stones_dressed", "stones dressed", "renews"),
        EventKind("shoes_changed", "guide shoes changed", "renews"),
        EventKind("brush_changed", "brush changed", "renews"),
        EventKind("insert_changed", "insert changed", "renews"),
        EventKind("bar_set_up", "bar set up", "renews"),
        EventKind("wheel_dressed", "wheel dressed", "renews"),
        EventKind("coolant_changed", "coolant changed", "joint"),
        EventKind("machine_repaired", "machine repaired", "joint"),
        EventKind("gauge_reset", "gauge re-set", "joint"),
        EventKind("master_changed", "master changed", "joint"),
    )
})  # fmt: skip
JOINTS: Final = tuple(k for k, e in EVENTS.items() if e.effect == "joint")
_CUT: Final = ("stones_changed", "stones_dressed", "insert_changed")
_LAP: Final = ("stones_changed", "stones_dressed", "brush_changed", "insert_changed")
_TUNNEL: Final = ("stones_changed", "stones_dressed", "bar_set_up", "insert_changed")


@dataclass(frozen=True, slots=True)
class Characteristic:
    """One entry of the catalogue.

    key : name in files, JSON and addresses; label : the everyday words on a page
    kind : what it measures; level : position in a feature, feature, or the whole build
    coded : charted as value minus the build's own target (else as it is)
    methods : definitions it may carry, the first is meant by a blank
    family : model of its distribution; family_source : who says so; families : another one for some methods
    value : how readings become the one value of a bore (mean, worst, own)
    bounded : by limits on both sides, an upper one only ("above"), a lower one only ("below")
    floor : physical zero or None; sampled_by : what one value stands for, in words
    repeats : which of several times at one position counts
    restarts_wear : events after which the wear count begins anew (empty: it does not wear)
    may_step : events at which its level may step
    wear_unit : what wear is counted in; states_that_matter : states it is usually judged in
    made_of, formula : the measured parts and the derived formula's name, empty when only measured
    definition : one sentence
    """

    key: str
    label: str
    kind: Kind
    level: Level
    coded: bool
    methods: tuple[str, ...]
    family: str
    definition: str
    value: Literal["mean", "worst", "own"] = "mean"
    bounded: Bounded = "both"
    floor: float | None = None
    sampled_by: str = "bore"
    repeats: Literal["last", "mean"] = "last"
    restarts_wear: tuple[str, ...] = ()
    may_step: tuple[str, ...] = JOINTS
    wear_unit: Literal["bores", "blocks"] = "bores"
    states_that_matter: tuple[str, ...] = ()
    made_of: tuple[str, ...] = ()
    formula: str = ""
    family_source: str = "common practice, no source"
    families: tuple[tuple[str, str], ...] = ()

    def family_of(self, method: str) -> str:
        """Family of a method's distribution."""
        return dict(self.families).get(method, self.family)

    @property
    def unit(self) -> str:
        """Unit of its values in answers: um for lengths (coded, form, texture or clearance), else its own."""
        return {"length": "um", "angle": "deg", "percent": "%", "time": "min"}[self.kind]

    @property
    def wears(self) -> bool:
        """Whether it changes with tool wear at all."""
        return bool(self.restarts_wear)


def _length(key: str, label: str, level: Level, definition: str, **more: object) -> Characteristic:
    start: dict[str, object] = {
        "kind": "length",
        "coded": True,
        "methods": ("two_point",),
        "family": "normal",
    }
    told: Any = start | more
    return Characteristic(key=key, label=label, level=level, definition=definition, **told)


def _texture(key: str, label: str, definition: str, **more: object) -> Characteristic:
    start: dict[str, object] = {
        "coded": False, "methods": ("gauss-0.8",), "family": "lognormal", "bounded": "above", "floor": 0.0,
        "repeats": "mean", "restarts_wear": _LAP,
    }  # fmt: skip
    return _length(key, label, "feature", definition, **(start | more))


# filters that valleys do not pull down, the only ones before a core of the material ratio curve
_CORE: Final = ("iso13565-1", "iso16610-31")
_PLATE: Final = ("plate_on", "plate_off")
_CAPS: Final = ("caps_torqued",)
_ENTRIES: Final = (
    _length("bore_diameter", "bore size", "position", "two-point diameter of a cylinder bore",
            restarts_wear=_CUT, states_that_matter=_PLATE),
    _length("bore_out_of_round", "bore out-of-round", "feature",
            "largest over the stations of (largest - smallest diameter over the directions); not ISO 12181",
            coded=False, methods=("DxS",), family="folded_normal", value="own", bounded="above", floor=0.0,
            restarts_wear=(*_CUT, "shoes_changed"), states_that_matter=_PLATE, made_of=("bore_diameter",),
            formula="out_of_round"),
    _length("bore_taper", "bore taper", "feature",
            "mean over directions of top minus bottom diameter, + larger at the top (`range`: largest)",
            coded=False, methods=("ends", "range"), value="own", restarts_wear=_CUT,
            states_that_matter=_PLATE,
            families=(("range", "folded_normal"), ("typed-range", "folded_normal")),
            made_of=("bore_diameter",), formula="taper"),
    _length("bore_barrel", "bore barrel", "feature",
            "mean over directions of the middle diameter minus the mean of top and bottom, + barrel, - waist",
            coded=False, methods=("ends",), value="own", restarts_wear=_CUT, states_that_matter=_PLATE,
            made_of=("bore_diameter",), formula="barrel"),
    _length("tunnel_diameter", "main housing size", "position",
            "two-point diameter of a main-bearing housing",
            sampled_by="main", restarts_wear=_TUNNEL, wear_unit="blocks", states_that_matter=_CAPS),
    _length("tunnel_out_of_round", "main housing out-of-round", "feature",
            "largest over the stations of (largest - smallest housing diameter over the directions)",
            coded=False, methods=("DxS",), family="folded_normal", value="own", bounded="above", floor=0.0,
            sampled_by="main", restarts_wear=_TUNNEL, wear_unit="blocks", states_that_matter=_CAPS,
            made_of=("tunnel_diameter",), formula="out_of_round"),
    _length("tunnel_offset", "main line offset", "feature",
            "signed distance of a housing's centre from the line through all of them, per plane",
            coded=False, methods=("best_fit", "end_line", "overall-vertical", "overall-horizontal"),
            value="own",
            sampled_by="main", restarts_wear=_TUNNEL, wear_unit="blocks", states_that_matter=_CAPS,
            families=(("overall-vertical", "folded_normal"), ("overall-horizontal", "folded_normal")),
            made_of=("tunnel_centre",), formula="line"),
    _length("tunnel_centre", "main housing centre", "feature",
            "height (`vertical`) or sideways place (`horizontal`) of a housing's centre; station = place "
            "along the line, from any origin", coded=False, methods=("vertical", "horizontal"), value="own",
            sampled_by="main", restarts_wear=_TUNNEL, wear_unit="blocks", states_that_matter=_CAPS),
    _length("rod_bore_diameter", "rod big-end size", "position", "two-point diameter of a rod's big end",
            sampled_by="rod", restarts_wear=_CUT, wear_unit="bores", states_that_matter=_CAPS),
    _length("journal_diameter", "main journal size", "position", "two-point diameter of a main journal",
            sampled_by="journal", restarts_wear=("wheel_dressed",), wear_unit="blocks"),
    _length("pin_diameter", "crank pin size", "position", "two-point diameter of a crank pin",
            sampled_by="pin", restarts_wear=("wheel_dressed",), wear_unit="blocks"),
    _length("shell_wall", "shell wall", "feature", "wall of a bearing shell, square to the joint",
            methods=("ball_anvil",), sampled_by="shell"),
    _length("shell_bore", "installed shell bore", "position",
            "bore of the fitted shells square to the joint, caps torqued", sampled_by="main",
            states_that_matter=_CAPS),
    _length("piston_diameter", "piston skirt", "feature", "skirt at the piston sheet's gauge point",
            methods=("gauge_point",), sampled_by="piston"),
    _length("main_clearance", "main bearing clearance", "feature",
            "bore square to the joint, mean over axial stations, minus the largest journal diameter",
            methods=("installed", "by_parts"), value="own", sampled_by="main", states_that_matter=_CAPS,
            made_of=("shell_bore", "tunnel_diameter", "shell_wall", "journal_diameter"),
            formula="main_clearance"),
    _length("rod_clearance", "rod bearing clearance", "feature",
            "bore square to the joint, mean over axial stations, minus the largest pin diameter",
            methods=("installed", "by_parts"), value="own", sampled_by="rod", states_that_matter=_CAPS,
            made_of=("shell_bore", "rod_bore_diameter", "shell_wall", "pin_diameter"),
            formula="rod_clearance"),
    _length("piston_clearance", "piston clearance", "feature",
            "bore at the piston sheet's depth and direction minus the skirt at its gauge point",
            methods=("by_parts",), value="own", states_that_matter=_PLATE,
            made_of=("bore_diameter", "piston_diameter"), formula="piston_clearance"),
    _length("end_play", "crank end play", "whole", "axial play of the crank", methods=("indicator",),
            sampled_by="block"),
    _length("rod_side_clearance", "rod side clearance", "feature", "side play of the rods on a pin",
            methods=("feeler",), sampled_by="rod"),
    _length("ring_gap", "ring gap", "feature", "end gap of a ring squared in its bore", methods=("feeler",)),
    _length("deck_height", "deck height", "position", "deck above the crank line", methods=("height",),
            sampled_by="deck", restarts_wear=("insert_changed", "wheel_dressed"), wear_unit="blocks"),
    _length("deck_flatness", "deck flatness", "feature", "largest departure of the deck from a plane",
            coded=False, methods=("straight_edge",), family="folded_normal", value="own", bounded="above",
            floor=0.0, sampled_by="deck", restarts_wear=("insert_changed", "wheel_dressed"),
            wear_unit="blocks"),
    _texture("ra", "Ra", "mean height of the roughness profile (ISO 21920-2 / ISO 4287)"),
    _texture("rz", "Rz", "mean of the five sampling-length heights (ISO 21920-2 / ISO 4287)"),
    _texture("rk", "Rk", "core height of the material ratio curve (ISO 13565-2)", methods=_CORE),
    _texture("rpk", "Rpk", "reduced peak height (ISO 13565-2)", methods=_CORE),
    _texture("rvk", "Rvk", "reduced valley depth (ISO 13565-2)", methods=_CORE, bounded="both"),
    _texture("mr1", "Mr1", "material ratio at the peak knee (ISO 13565-2)", kind="percent",
             methods=_CORE, family="normal", floor=None),
    _texture("mr2", "Mr2", "material ratio at the valley knee (ISO 13565-2)", kind="percent",
             methods=_CORE, family="normal", bounded="both", floor=None),
    _texture("vo", "Vo oil volume", "(100 - Mr2) Rvk / 200 in um = um3/um2", methods=_CORE,
             bounded="both"),
    _texture("crosshatch_angle", "crosshatch angle", "included angle of the honing marks", kind="angle",
             methods=("included",), family="normal", bounded="both", floor=None),
    _length("minutes_per_bore", "minutes per bore", "feature", "honing or boring time of one bore",
            kind="time", coded=False, methods=("clock",), family="lognormal", value="own", bounded="above",
            floor=0.0, restarts_wear=_CUT),
    _length("master_check", "master reading", "feature", "reading of a master against its certified size",
            methods=("two_point",), sampled_by="reading", repeats="mean",
            may_step=("gauge_reset", "master_changed")),
)  # fmt: skip
CATALOGUE: Final[Mapping[str, Characteristic]] = MappingProxyType({c.key: c for c in _ENTRIES})

# everyday words on a page for what files and addresses call otherwise
SAID: Final[Mapping[str, str]] = MappingProxyType({
    "plate_on": "plate on", "plate_off": "plate off", "caps_torqued": "caps torqued", "free": "free",
    "received": "as received", "unstated": "state not said", "finish_bore": "finish bore",
    "rough_bore": "rough bore", "plateau_hone": "plateau hone", "line_hone": "line hone",
    "line_bore": "line bore",
    "rod_hone": "rod hone", "journal_grind": "journal grind", "receive": "receiving", "check": "master check",
    "spread_in_block": "bore to bore in one block", "spread_between_blocks": "block to block",
    "spread_all": "all together", "does_not_conform": "does not conform",
    "undecided": "the gauge cannot tell",
})  # fmt: skip
# characteristics whose direction repeats after half a turn: a diameter at 180 is the one at 0
HALF_TURN: Final = frozenset(
    {
        "bore_diameter",
        "tunnel_diameter",
        "rod_bore_diameter",
        "journal_diameter",
        "pin_diameter",
        "shell_bore",
    }
)


def characteristic(key: str) -> Characteristic:
    """Entry of a characteristic.

    Raises
    ------
    InputError
        When the catalogue has none, with the nearest keys as a proposal.
    """
    entry = CATALOGUE.get(key)
    if entry is None:
        near = nearest(key)
        raise InputError(f"{key!r} is no characteristic we know" + (f": is it {near}?" if near else ""))
    return entry


def nearest(key: str) -> str:
    """The characteristic whose key looks most like this text, or an empty text."""
    found = get_close_matches(
        key.strip().lower().replace(" ", "_").replace("-", "_"), list(CATALOGUE), 1, 0.6
    )
    return found[0] if found else ""


def event_kind(key: str) -> EventKind:
    """Entry of an event kind.

    Raises
    ------
    InputError
        When there is none of that name.
    """
    kind = EVENTS.get(key)
    if kind is None:
        raise InputError(f"{key!r} is no event we know: write one of {', '.join(EVENTS)}")
    return kind


def said(key: str) -> str:
    """Everyday words for a key: a label of the catalogue, a word of the table, or the key itself."""
    if key in CATALOGUE:
        return CATALOGUE[key].label
    return SAID.get(key, key.replace("_", " "))

"""The catalogue against the keys, units and events that the file contract names."""

import pytest

from qc import units
from qc.catalogue import (
    CATALOGUE,
    EVENTS,
    HALF_TURN,
    JOINTS,
    OPERATIONS,
    STATES,
    characteristic,
    event_kind,
    nearest,
    said,
)
from qc.errors import InputError
from qc.stats.families import family

CHARACTERISTICS = (
    "bore_diameter", "bore_out_of_round", "bore_taper", "bore_barrel", "tunnel_diameter",
    "tunnel_out_of_round", "tunnel_offset", "rod_bore_diameter", "journal_diameter", "pin_diameter",
    "shell_wall", "shell_bore", "piston_diameter", "main_clearance", "rod_clearance",
    "piston_clearance", "end_play", "rod_side_clearance", "ring_gap", "deck_height", "deck_flatness",
    "ra", "rz", "rk", "rpk", "rvk", "mr1", "mr2", "vo", "crosshatch_angle", "minutes_per_bore",
    "master_check",
)  # fmt: skip
RENEW = (
    "stones_changed", "stones_dressed", "shoes_changed", "brush_changed", "insert_changed",
    "bar_set_up", "wheel_dressed",
)  # fmt: skip
JOIN = ("coolant_changed", "machine_repaired", "gauge_reset", "master_changed")


def test_every_characteristic_of_the_file_contract_has_an_entry():
    assert set(CHARACTERISTICS) <= set(CATALOGUE)
    assert all(characteristic(key).key == key for key in CATALOGUE)


def test_every_event_of_the_file_contract_has_an_entry_with_its_effect():
    assert {k: e.effect for k, e in EVENTS.items()} == dict.fromkeys(RENEW, "renews") | dict.fromkeys(
        JOIN, "joint"
    )
    assert set(JOINTS) == set(JOIN)
    assert all(event_kind(key).label for key in EVENTS)


def test_states_and_operations_are_those_of_the_words():
    assert set(STATES) == {"plate_on", "plate_off", "caps_torqued", "free", "received", "unstated"}
    named = {"finish_bore", "plateau_hone", "line_hone", "deck", "journal_grind", "fit", "receive", "check"}
    assert named <= set(OPERATIONS)


def test_sizes_are_coded_and_form_texture_angle_percent_and_time_are_not():
    # design, words: coded deviation for diameters, walls, clearances, gaps, heights
    coded = {
        "bore_diameter", "tunnel_diameter", "rod_bore_diameter", "journal_diameter", "pin_diameter",
        "shell_wall", "shell_bore", "piston_diameter", "main_clearance", "rod_clearance", "piston_clearance",
        "end_play", "rod_side_clearance", "ring_gap", "deck_height", "master_check",
    }  # fmt: skip
    assert {k for k in CHARACTERISTICS if CATALOGUE[k].coded} == coded


def test_families_are_those_of_the_definitions():
    # figures 2: sizes, signed forms and offsets normal; out-of-round folded normal; heights lognormal
    assert {CATALOGUE[k].family for k in ("ra", "rz", "rk", "rpk", "rvk")} == {"lognormal"}
    assert {CATALOGUE[k].family for k in ("bore_out_of_round", "tunnel_out_of_round")} == {"folded_normal"}
    signed = ("bore_diameter", "tunnel_diameter", "journal_diameter", "bore_taper", "bore_barrel")
    assert {CATALOGUE[k].family for k in signed} == {"normal"}
    assert all(family(entry.family) for entry in CATALOGUE.values())


def test_every_choice_of_a_family_says_its_source():
    assert all(entry.family_source for entry in CATALOGUE.values())


@pytest.mark.parametrize("entry", CATALOGUE.values(), ids=lambda e: e.key)
def test_an_entry_contradicts_neither_itself_nor_the_others(entry):
    assert entry.methods
    assert entry.definition
    assert entry.label
    assert set(entry.restarts_wear) <= set(RENEW)
    assert set(entry.may_step) <= set(JOIN)
    assert entry.wears == bool(entry.restarts_wear)
    assert set(entry.states_that_matter) <= set(STATES)
    assert set(entry.made_of) <= set(CATALOGUE)
    assert units.kind(entry.unit) == entry.kind
    # a lower limit at a physical zero is none, so what has such a zero is bounded above or needs both said
    assert entry.floor in (None, 0.0)


def test_a_direction_repeats_after_half_a_turn_for_diameters_only():
    diameters = {k for k in CATALOGUE if k.endswith("_diameter")} - {"piston_diameter"}
    assert diameters | {"shell_bore"} == HALF_TURN


@pytest.mark.parametrize(
    ("written", "meant"),
    [("bore_diamter", "bore_diameter"), ("Bore Diameter", "bore_diameter"),
     ("main-clearance", "main_clearance"), ("crosshatch", "crosshatch_angle")],
)  # fmt: skip
def test_an_unknown_characteristic_is_refused_with_the_nearest_key(written, meant):
    assert nearest(written) == meant
    with pytest.raises(InputError, match=f"is it {meant}"):
        characteristic(written)


def test_what_is_like_nothing_is_refused_without_a_guess():
    assert nearest("zzz") == ""
    with pytest.raises(InputError, match="no characteristic we know$"):
        characteristic("zzz")


def test_an_unknown_event_is_refused_with_the_list():
    with pytest.raises(InputError, match="stones_changed, stones_dressed"):
        event_kind("lunch")


def test_everyday_words_are_given_for_keys_and_kept_for_names():
    assert said("bore_diameter") == "bore size"
    assert said("plate_on") == "plate on"
    assert said("some_new_word") == "some new word"

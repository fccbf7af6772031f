import json

import pytest

from tests.reference.loader import HERE, KINDS, Check, checks, named

ALL = list(checks())


@pytest.mark.parametrize("check", ALL, ids=[check.id for check in ALL])
def test_figures_meet_the_numbers_of_their_source(check: Check):
    assert check.misses() == []


@pytest.mark.parametrize("check", ALL, ids=[check.id for check in ALL])
def test_every_check_names_its_source_its_kind_and_functions_that_exist(check: Check):
    assert len(check.source) > 10
    assert check.kind in KINDS
    assert check.atol > 0 or check.rtol > 0
    for subject in check.subjects:
        assert callable(named(subject))


def test_every_case_file_is_used():
    used = {check.id.split(":")[0] for check in ALL}
    assert {file.stem for file in HERE.glob("*.json")} <= used


def test_a_case_file_is_one_document_with_a_source():
    for file in HERE.glob("*.json"):
        assert json.loads(file.read_text(encoding="utf-8"))["source"]

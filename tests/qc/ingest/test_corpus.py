"""More than sixty files of every kind: no clean value is read wrong, and nothing of them is lost."""

import json

import pytest

from tests.simulations import corpus_second_seed as corpus

pytestmark = pytest.mark.simulation


@pytest.fixture(scope="module")
def found(tmp_path_factory):
    return corpus.outcome(tmp_path_factory.mktemp("corpus"), corpus.FIRST)


def test_no_cell_of_the_corpus_is_wrong_or_lost(found):
    assert found["wrong"] == []


def test_nothing_that_should_wait_was_kept_and_hardly_anything_clean_waits(found):
    counts = found["counts"]
    assert {k for k in counts if "became" in k} <= {
        "kept became kept", "kept became held", "held became held", "nothing became nothing",
        "limits became limits",
    }  # fmt: skip
    assert counts.get("kept became held", 0) <= counts["kept became kept"] * 0.002


def test_the_corpus_is_as_varied_as_it_says(found):
    assert found["counts"]["files"] >= 60
    assert found["counts"]["kept became kept"] > 2000
    assert found["counts"]["held became held"] > 100
    assert found["kinds"] > 50


def test_the_second_seed_was_run_and_no_cell_was_wrong():
    kept = json.loads(corpus.RESULT.read_text(encoding="utf-8"))
    assert (kept["seed"], kept["wrong"]) == (corpus.SECOND, [])
    assert kept["at"]
    assert kept["commit"]
    assert kept["counts"]["files"] >= 60

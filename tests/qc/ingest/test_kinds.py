import pytest
from hypothesis import given
from hypothesis import strategies as st

from qc.ingest.kinds import KINDS, canonical, kind_of, missing_sentence

# the file contract, column by column
CONTRACT = {
    "readings": "build machine operation characteristic feature value unit measured_at engine serial state "
    "method station_mm clock_deg reading target lower upper gauge operator made_at order trial pass "
    "sized_with master torque material part_c gauge_c note",
    "specifications": "build engine operation characteristic feature station_mm clock_deg state reading "
    "lower target upper unit since revision source",
    "events": "machine gauge operation at event note",
    "gauges": "gauge kind resolution standard_uncertainty common_part unit calibrated_on due_on master "
    "value correction certificate",
    "builds": "build engine serial material received_on shipped_on note",
    "measuring_plan": "engine characteristic feature station_mm clock_deg state since revision",
    "machines": "machine kind since note",
}


@pytest.mark.parametrize("kind", CONTRACT)
def test_a_kind_has_the_columns_of_the_contract_and_is_told_by_them(kind):
    columns = CONTRACT[kind].split()
    assert set(KINDS[kind].columns) == set(columns)
    assert kind_of(columns) == kind
    assert kind_of(KINDS[kind].required + tuple(g[0] for g in KINDS[kind].needs_one)) == kind


@pytest.mark.parametrize("kind", CONTRACT)
def test_unknown_columns_beside_them_do_not_change_the_kind(kind):
    assert kind_of([*CONTRACT[kind].split(), "colour", "shelf"]) == kind


@given(st.sampled_from(CONTRACT["readings"].split()), st.data())
def test_case_spaces_dashes_and_underscores_do_not_matter(column, data):
    mark = data.draw(st.sampled_from(["", " ", "-", "_", "  "]))
    written = mark.join(column.split("_"))
    written = data.draw(st.sampled_from([written, written.upper(), written.title(), f" {written} "]))
    assert canonical(written) == column


@pytest.mark.parametrize("column", CONTRACT["readings"].split()[:8])
def test_a_missing_column_is_named_with_those_found(column):
    header = [c for c in CONTRACT["readings"].split() if c != column]
    assert kind_of(header) is None
    sentence = missing_sentence(header)
    assert sentence is not None
    assert f"the column {column} is missing" in sentence
    assert "torque" in sentence


def test_a_misspelt_column_is_proposed_for_the_missing_one():
    sentence = missing_sentence(
        ["build", "machine", "operation", "characteristic", "feature", "vlaue", "unit", "measured at"]
    )
    assert sentence is not None
    assert "is 'vlaue' meant for value?" in sentence


@pytest.mark.parametrize("header", [[], ["a", "b"], ["name", "street", "town"], ["note"]])
def test_a_header_like_none_of_ours_is_no_near_miss(header):
    assert kind_of(header) is None
    assert missing_sentence(header) is None

"""What people said of matters goes with the pack, and its drift answer is recomputed with it."""

from qc.export import archive, pack, verify
from qc.history.zone import microseconds
from qc.records import Asked
from qc.reports import acts, drift
from tests.qc.reports.textured import limits, texture


def test_a_pack_with_matters_and_reactions_agrees_with_itself(floor, tmp_path):
    import datetime

    floor.take(limits())
    floor.take(texture(0, 34))
    about = {"characteristic": "ra", "machine": None, "operation": None}
    acts.react(floor.store, about, does="dress", tells=None, remeasures=None, by="test")
    when = microseconds(datetime.datetime(2025, 6, 1, tzinfo=datetime.UTC))
    acts.act(floor.store, "hone-1", "taken_up", initials="RK", said="=1+2", by="test", at=when)
    place = tmp_path / "audit.zip"
    pack.write_to(floor.store, Asked(), place)
    names = archive.read(place)
    assert b"RK" in names["matters.csv"]
    assert b"dress" in names["reactions.csv"]
    (matter,) = drift.answer(floor.store, Asked())["matters"]
    assert matter["taken_up"]["said"] == "=1+2"
    document = verify.answer(place)
    assert document["agree"], [c for c in document["checks"] if not c["agrees"]]

"""What an old revision showed, asked for again after anything a shop may do; in both back ends."""

from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from qc.records import Build, Event, Spec
from qc.store import Store
from tests.qc.store.given import DAY, NOON, batch, finding, held, reading, seen, take


def late_file(store, n):
    take(store, [reading(2, name=f"{n}.csv", made_at=NOON - n * DAY)], f"{n}.csv")


def void(store, n):
    there = store.readings()
    if len(there):
        with store.write(by="bea", command="void") as write:
            write.void(there["id"][n % len(there)], "slipped")


def correct(store, n):
    there = store.readings()
    if len(there):
        old = there.iloc[n % len(there)]
        with store.write(by="bea", command="correct") as write:
            write.add_readings(int(old["file_id"]), [
                reading(int(old["row"]), name=old["file"], value=n, made_at=int(old["made_at"])),
            ], replaces={0: old["id"]})  # fmt: skip


def back_dated(store, n):
    with store.write(by="bea", command="spec") as write:
        write.add_specs(
            None, [Spec("bore_diameter", "deviation", "um", lower=-n, upper=n, since=NOON - n * DAY)]
        )
        write.add_events(None, [Event("stones_changed", NOON - n * DAY, machine="hone-2")])


def withdraw(store, n):
    for kind in ("spec", "event", "exclusion"):
        there = store.records(kind)
        if len(there):
            with store.write(by="bea", command="withdraw") as write:
                write.withdraw(kind, int(there["seq"][n % len(there)]), "moved")


def exclude(store, n):
    with store.write(by="bea", command="exclude") as write:
        write.exclude({"until": NOON - n * DAY, "machine": "hone-2"}, f"burr {store.revision()}")


def doubt(store, n):
    with store.write(by="ann", command="ingest") as write:
        name = f"doubt-{n}.csv"
        number = write.add_file(batch(name), status="held", kept=0, held=1, already_kept=0)
        write.add_findings(number, [finding()], [held(3, name=name)])


def decide(store, n):
    there = store.findings()
    if len(there):
        with store.write(by="bea", command="held") as write:
            write.decide(int(there["id"][n % len(there)]), ("accept", "correct", "discard")[n % 3], "so")


def settle(store, n):
    with store.write(by="bea", command="shop") as write:
        write.set("false_alarms_a_month", str(n))
        write.add_builds(None, [Build("K-17", note=str(n))])


_DEEDS = (late_file, void, correct, back_dated, withdraw, exclude, doubt, decide, settle)


@settings(
    max_examples=2,
    deadline=None,
    derandomize=True,
    phases=[Phase.generate],
    suppress_health_check=list(HealthCheck),
)
@given(deeds=st.permutations(_DEEDS), choice=st.integers(0, 4))
def test_what_an_old_revision_showed_never_changes(new_place, deeds, choice):
    with Store.open(new_place(), create=True) as store:
        shown = {0: seen(store)}
        for n, deed in enumerate([late_file, late_file, doubt, *deeds]):
            # a file needs a new name each time, an exclusion another scope
            deed(store, n + 10 if deed in (late_file, doubt, exclude) else choice)
            shown[store.revision()] = seen(store)
        for number, before in shown.items():
            for was, now in zip(before, seen(store, number), strict=True):
                assert was.equals(now), number

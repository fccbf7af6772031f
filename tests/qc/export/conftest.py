"""A small made-up shop of two hones, taken in from files, and the audit pack of it."""

import functools
import random
import shutil

import pytest

from qc.export import archive, pack
from qc.ingest.run import ingest
from qc.records import Asked
from qc.reports import capability
from qc.store import Store

HEADER = (
    "build,engine,machine,operation,characteristic,state,feature,station_mm,clock_deg,target,value,unit,"
    "measured_at"
)
SPECS = (
    "engine,characteristic,state,reading,lower,target,upper,unit,since,source\n"
    "i4-test,bore_diameter,plate_on,deviation,-8,0,8,um,2026-01-01,our own sheet 1\n"
    "i4-test,bore_taper,plate_on,size,-10,0,10,um,2026-01-01,our own sheet 1\n"
    "i4-test,ra,plate_on,size,,,0.6,um,2026-01-01,our own sheet 1\n"
)
EVENTS = "machine,operation,at,event,note\nhone-1,plateau_hone,2026-04-01,stones_changed,=1+2\n"


def _readings():
    draw = random.Random(11)
    lines = [HEADER]
    for n in range(22):
        machine, target = f"hone-{1 + n % 2}", 86.000 + 0.25 * (n % 3)
        at = f"2026-{3 + n // 11:02d}-{2 + 2 * (n % 11):02d}"
        head = f"T{n + 1:02d},i4-test,{machine},plateau_hone"
        block = draw.gauss(0, 1.2)
        for cyl in range(1, 5):
            bore = draw.gauss(0, 1.0)
            for station in (15, 110):
                for clock in (0, 90):
                    size = target + (block + bore + draw.gauss(0, 0.5)) / 1000
                    text = (
                        f"{size * 10:.3f}" if (n, cyl, station, clock) == (4, 2, 110, 90) else f"{size:.4f}"
                    )
                    lines.append(
                        f"{head},bore_diameter,plate_on,cyl-{cyl},{station},{clock},{target:.3f},{text},mm,{at}T09:0{cyl}"
                    )
            ra = 0.35 * 2.718 ** draw.gauss(0, 0.12)
            lines.append(f"{head},ra,plate_on,cyl-{cyl},,,,{ra:.3f},um,{at}T10:0{cyl}")
    return "\n".join(lines) + "\n"


@pytest.fixture(scope="session", autouse=True)
def _few_draws():
    """Few draws: a pack and its verifier agree whatever their number, and these tests are many."""
    told = capability.answer
    capability.answer = functools.partial(told, draws=2_000)
    yield
    capability.answer = told


@pytest.fixture(scope="session")
def shop(tmp_path_factory):
    """A store with readings, limits, an event and one row held."""
    folder = tmp_path_factory.mktemp("shop")
    files = folder / "files"
    files.mkdir()
    for name, text in (("specs.csv", SPECS), ("events.csv", EVENTS), ("=readings of May.csv", _readings())):
        (files / name).write_text(text, encoding="utf-8")
    with Store.open(folder / "shop.db", create=True) as store:
        with store.write(by="test", command="shop set") as write:
            write.set("zone", "Europe/Berlin")
        ingest(store, [files], by="test")
        yield store


@pytest.fixture(scope="session")
def _packed(shop, tmp_path_factory):
    place = tmp_path_factory.mktemp("pack") / "audit.zip"
    pack.write_to(shop, Asked(), place)
    return place


@pytest.fixture
def packed(_packed, tmp_path):
    """Path of an audit pack of its own for each test."""
    place = tmp_path / "audit.zip"
    shutil.copy(_packed, place)
    return place


@pytest.fixture
def change(packed):
    """Change one entry of the pack; with `relist` the manifest is made to fit, as a clever hand would."""

    def changed(name, alter, *, relist=True):
        entries = {key: data for key, data in archive.read(packed).items() if data is not None}
        entries[name] = alter(entries[name])
        if relist:
            import json

            manifest = json.loads(entries["manifest.json"])
            for one in manifest["files"]:
                if one["name"] == name:
                    one["sha256"] = archive.sha256(entries[name])
            entries["manifest.json"] = json.dumps(manifest).encode()
        packed.write_bytes(archive.content(entries))
        return packed

    return changed

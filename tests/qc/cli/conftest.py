"""A small made-up shop: ten engines honed on hone-1, one mistyped cell, limits, stones changed once."""

import random
import shutil

import pytest
from click.testing import CliRunner

from qc.cli import main

HEADER = (
    "build,engine,machine,operation,characteristic,state,feature,station_mm,clock_deg,target,value,unit,gauge,"
    "measured_at"
)
SPECS = (
    "engine,characteristic,state,reading,lower,target,upper,unit,since,source\n"
    "i4-test,bore_diameter,plate_on,deviation,-8,0,8,um,2026-01-01,our own sheet 1\n"
    "i4-test,bore_taper,plate_on,size,-10,0,10,um,2026-01-01,our own sheet 1\n"
)
EVENTS = "machine,operation,at,event,note\nhone-1,plateau_hone,2026-04-01,stones_changed,\n"


def made_readings(builds=10, mistyped=True):
    draw = random.Random(7)
    lines = [HEADER]
    for n in range(builds):
        target = 86.000 + 0.25 * (n % 3)
        block = draw.gauss(0, 1.5)
        for cyl in range(1, 5):
            bore = draw.gauss(0, 1.0)
            for station in (15, 110):
                for clock in (0, 90):
                    size = target + (block + bore + draw.gauss(0, 0.5)) / 1000
                    text = f"{size:.4f}"
                    if mistyped and n == 4 and (cyl, station, clock) == (2, 110, 90):
                        text = f"{size * 10:.3f}"
                    at = f"2026-{3 + n // 5:02d}-{3 + 4 * (n % 5):02d}T09:{cyl:02d}"
                    lines.append(
                        f"T{n + 1:02d},i4-test,hone-1,plateau_hone,bore_diameter,plate_on,"
                        f"cyl-{cyl},{station},{clock},{target:.3f},{text},mm,bg-1,{at}"
                    )
    return "\n".join(lines) + "\n"


@pytest.fixture(scope="session")
def files(tmp_path_factory):
    folder = tmp_path_factory.mktemp("files")
    for name, text in (("specs.csv", SPECS), ("events.csv", EVENTS), ("readings.csv", made_readings())):
        (folder / name).write_text(text, encoding="utf-8")
    return folder


@pytest.fixture(scope="session")
def _shop(tmp_path_factory, files):
    place = tmp_path_factory.mktemp("store") / "made.db"
    runner = CliRunner()
    runner.invoke(main, ["shop", "set", "zone", "UTC", "--store", str(place), "--by", "test"])
    done = runner.invoke(main, ["ingest", str(files), "--store", str(place), "--by", "test"])
    assert done.exit_code == 1, done.output
    return place


@pytest.fixture(scope="session")
def readings_csv():
    """The maker of the readings' file, to know what a mistyped cell was meant to say."""
    return made_readings


@pytest.fixture
def shop(_shop, tmp_path):
    """Path of a store of its own for each test."""
    place = tmp_path / "shop.db"
    shutil.copy(_shop, place)
    return place


@pytest.fixture
def qc(monkeypatch, tmp_path):
    """Run a command as a person would, in an empty folder."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("QC_STORE", raising=False)

    def run(*words, store=None):
        place = ["--store", str(store)] if store is not None else []
        return CliRunner().invoke(main, [*map(str, words), *place], catch_exceptions=False)

    return run

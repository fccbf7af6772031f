import numpy as np
import pytest

from qc.drift import SeriesBlocks
from qc.reports import judgements
from qc.store import Store

LEVEL = 0.00073


def course(key, means):
    m = len(means)
    return SeriesBlocks(
        key=key, means=np.asarray(means, dtype=float), bores=np.full(m, 8.0), spreads=np.full(m, 1.0),
        wear=np.arange(m) * 8.0, stretch=np.zeros(m, dtype=int), joint=np.zeros(m, dtype=int),
        at=np.arange(m, dtype=float), builds=tuple(f"B{i}" for i in range(m)), lower=-9.0, upper=9.0,
    )  # fmt: skip


@pytest.fixture
def shop(tmp_path):
    noise = np.random.default_rng(5).normal(size=(2, 40))
    keys = [("hone-1", "hone", "bore_diameter", "two_point", s) for s in ("plate_on", "plate_off")]
    with Store.open(tmp_path / "shop.db", create=True) as store:
        yield store, [course(k, x) for k, x in zip(keys, noise, strict=True)]


def test_what_was_kept_is_what_was_worked_out(shop):
    store, series = shop
    first = judgements.judgements(store, series, LEVEL)
    assert judgements.judgements(store, series, LEVEL) == first


def test_only_a_series_whose_blocks_changed_is_judged_again(shop, monkeypatch):
    store, series = shop
    judgements.judgements(store, series, LEVEL)
    asked = []
    real = judgements.judge
    monkeypatch.setattr(
        judgements, "judge", lambda s, **more: asked.append([o.key for o in s]) or real(s, **more)
    )
    moved = course(series[1].key, np.append(series[1].means, 0.1))
    found = judgements.judgements(store, [series[0], moved], LEVEL)
    assert asked == [[moved.key]]
    assert found == real(
        [series[0], moved], level=LEVEL, pooled_lag1=judgements.pooled_lags([series[0], moved])
    )


def test_another_level_is_another_question(shop):
    store, series = shop
    assert judgements.digest(series[0], LEVEL, 0.1) != judgements.digest(series[0], 2 * LEVEL, 0.1)
    assert judgements.digest(series[0], LEVEL, 0.1) == judgements.digest(
        course(series[0].key, series[0].means), LEVEL, 0.1
    )


def test_a_store_that_cannot_be_written_still_answers(shop, monkeypatch):
    from qc.errors import StoreBusy
    from qc.store.database import Database

    store, series = shop
    expected = judgements.judgements(store, series, LEVEL)
    with store.database.writing() as connection:
        connection.exec_driver_sql("DELETE FROM kept")

    def refuse(self):
        raise StoreBusy("another program holds it")

    monkeypatch.setattr(Database, "writing", refuse)
    assert judgements.judgements(store, series, LEVEL) == expected

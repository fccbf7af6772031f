import numpy as np
import pytest
from statsmodels.regression.linear_model import OLS

from qc.drift.looks import Looks, growth, windows_of
from qc.drift.scatter import grown, windows

M = 30
RNG = np.random.default_rng(1)
Y = RNG.normal(size=M)
STEPS = np.tril(np.ones((M, M)))
BASE = np.column_stack([np.ones(M), np.arange(M) >= 12]).astype(float)


@pytest.mark.parametrize("t", [10, 13, 20, 30])
def test_every_look_is_the_librarys_fit_of_the_first_blocks(t):
    looks = Looks(BASE, Y)
    base = BASE[:t][:, BASE[:t].any(axis=0)]
    rows = [4, 7]
    allowed = np.zeros((M, M), dtype=bool)
    allowed[:, rows] = True
    best = looks.best(STEPS, allowed)
    library = [OLS(Y[:t], np.column_stack([base, STEPS[:t, r]])).fit() for r in rows]
    least = min(library, key=lambda f: f.pvalues[-1])
    assert best.row[t - 1] == rows[library.index(least)]
    assert best.p[t - 1] == pytest.approx(least.pvalues[-1])
    assert best.effect[t - 1] == pytest.approx(least.params[-1])
    one = looks.added(t, STEPS[:, rows])
    assert one.error == pytest.approx([f.bse[-1] for f in library])
    assert one.rss == pytest.approx([f.ssr for f in library])


def test_the_last_block_alone_is_tested_as_its_own_column():
    library = OLS(Y, np.column_stack([BASE, np.eye(M)[:, -1]])).fit()
    amount, p = Looks(BASE, Y).last_alone()
    assert amount[-1] == pytest.approx(library.params[-1])
    assert p[-1] == pytest.approx(library.pvalues[-1])


def test_a_column_that_the_base_holds_tells_nothing():
    allowed = np.zeros((M, M), dtype=bool)
    allowed[:, 12] = True
    assert (Looks(BASE, Y).best(STEPS, allowed).p == 1.0).all()


def test_growth_of_all_blocks_is_that_of_each():
    values, start = RNG.normal(size=M), np.repeat([0, 22], [22, 8])
    where = windows_of(0, start)
    p, _ = growth(values[where.learned], values[where.latest], where)
    for t in range(1, M + 1):
        places = windows(0, int(start[t - 1]), t)
        expected = 1.0 if places is None else grown(values[places[0]], values[places[1]])
        assert p[t - 1] == pytest.approx(expected)


def test_recent_columns_give_what_all_columns_give():
    allowed = np.zeros((M, M), dtype=bool)
    for t in range(6, M + 1):
        allowed[t - 1, max(3, t - 12) : t - 2] = True
    looks = Looks(BASE, Y)
    every, recent = looks.best(STEPS, allowed), looks.best_recent(STEPS, allowed, 13)
    assert recent.p == pytest.approx(every.p)
    seen = every.p < 1
    assert (recent.row == every.row)[seen].all()
    assert recent.effect[seen] == pytest.approx(every.effect[seen])

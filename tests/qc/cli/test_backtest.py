"""The back-test on the command line: its answer, its progress, and being stopped."""

import json

import pytest


def test_a_back_test_tells_each_setting_and_leaves_with_nought(qc, shop):
    told = qc("drift", "--backtest", "--json", store=shop)
    assert told.exit_code == 0
    document = json.loads(told.stdout)
    assert document["answer"] == "backtest"
    assert document["complete"]
    assert [s["times_the_level"] for s in document["settings"]] == [1.0, 0.3, 3.0]
    assert f"replayed {document['of']} of {document['of']}" in told.stderr


def test_a_stopped_back_test_tells_what_is_done_and_leaves_with_one(qc, shop, monkeypatch):
    from qc.reports.backtest import Backtest

    whole = Backtest.steps

    def stopped(self):
        for done, total in whole(self):
            yield done, total
            raise KeyboardInterrupt

    monkeypatch.setattr(Backtest, "steps", stopped)
    told = qc("drift", "--backtest", store=shop)
    assert told.exit_code == 1
    assert "stopped: what follows is told from the part that was replayed" in told.stderr
    assert "Only 1 of " in told.stdout


@pytest.mark.parametrize("n", ["0", "-3", "soon"])
def test_a_count_that_is_none_is_refused(qc, shop, n):
    assert qc("drift", "--within", n, store=shop).exit_code == 2

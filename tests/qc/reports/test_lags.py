"""Blocks of known cause do not tell how the others lean on each other."""

from types import SimpleNamespace

import numpy as np
import pandas as pd

from qc.reports.lags import lags, of_known_cause

KEY = ("hone-1", "plateau_hone", "bore_diameter", "two_point", "plate_on")


def blocks(means):
    return pd.DataFrame({
        "build": [f"B{i}" for i in range(len(means))], "mean": means, "stretch": 0, "joint": 0,
        "at": np.arange(len(means)), "gauges": [("bg-1",)] * len(means),
    })  # fmt: skip


def known(frame, *, decided=True, gauge="bg-1"):
    shift = SimpleNamespace(decided=decided, gauge=gauge, within=lambda at: (at >= 30) & (at < 36))
    return {KEY: SimpleNamespace(blocks=frame, shifts=(shift,))}


def test_a_gauges_shift_is_left_out_and_a_persons_builds_too():
    frame = blocks(np.zeros(60))
    left = of_known_cause(known(frame), {KEY: ("B3",)})
    assert left == {KEY: {"B3", *(f"B{i}" for i in range(30, 36))}}


def test_a_shift_that_may_be_the_machines_or_of_another_gauge_stays_in():
    frame = blocks(np.zeros(60))
    assert of_known_cause(known(frame, decided=False), {}) == {}
    assert of_known_cause(known(frame, gauge="bg-2"), {}) in ({}, {KEY: set()})


def test_independent_blocks_with_a_gauges_shift_hardly_lean_once_it_is_left_out():
    means = np.random.default_rng(5).normal(size=60)
    means[30:36] += 8
    frame = blocks(means)
    # the shift alone makes neighbours alike: their sums of products rise by 5 x 64 in 60
    assert lags({KEY: frame})[KEY] > 0.5
    assert lags({KEY: frame}, of_known_cause(known(frame), {}))[KEY] < 0.2

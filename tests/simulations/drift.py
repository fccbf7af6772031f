"""How often drift cries wolf, how soon it sees, how often its forecasts hold: the kept simulation.

Series of 90 blocks of 8 bores, the first 20 to learn from; level, spread and lag-1 are estimated by
the product, the lag-1 pooled over 8 like series; the alarm level is 0.00073. A plain way (limits of
individuals, least squares over 20 blocks) sees the same series. Run as a script it writes its cells
beside those of other seeds (rounds of steady series, rounds of all else, seed, lags in hundredths);
the suite runs a part of it.
"""

import json
import sys
from pathlib import Path

import numpy as np

from qc.drift import judge
from qc.drift.alike import pooled_lag
from qc.drift.condition import LIKELY, SOON
from qc.drift.line import elapsed, forecast, surely_met
from qc.drift.model import model_of
from qc.drift.replay import Replay
from tests.simulations import drift_worlds as worlds
from tests.simulations import kept_result
from tests.simulations.drift_gauges import gauge_cells

LEVEL = 0.00073
RESULT = Path(__file__).with_suffix(".json")
TOGETHER = 8
LAGS = (0.0, 0.25, 0.5)
KINDS = (("does not wear", False), ("no events", True))
AGES = {"3 to 6 blocks": (3, 6), "7 to 12 blocks": (7, 12), "over 12 blocks": (13, 20)}


def judged(many):
    """Judgements, the lag-1 pooled over eight series at a time."""
    return [j for k in range(0, len(many), TOGETHER) for j in judge(many[k : k + TOGETHER], level=LEVEL)]


def left_of(many):
    """Count to the limit of each series as `judge` tells it, None without one, and nothing else of it."""
    out = []
    for k in range(0, len(many), TOGETHER):
        like = many[k : k + TOGETHER]
        rho = pooled_lag(like)
        for one in like:
            replay = Replay(model_of(one, rho), LEVEL)
            if one.wears:
                replay.soon = lambda r, t, one=one: surely_met(one, r, t, SOON * elapsed(r, t), LIKELY)
            replay.run()
            wanted = one.wears or replay.conditions[-1] == "drifting"
            found = forecast(one, replay, len(one.means)) if wanted else None
            out.append(None if found is None else found[2])
    return out


def calls(told):
    return np.array([c not in ("steady", "thin") for c in told])


def share(hits):
    if not len(hits):
        return {"share": None, "of": 0, "error": None}
    p, n = float(np.mean(hits)), len(hits)
    return {"share": p, "of": n, "error": float(np.sqrt(max(p * (1 - p), 1 / n) / n))}


def steady(rng, rho, part, rounds, wears, world=worlds.quiet):
    many = [world(rng, rho, part, wears) for _ in range(rounds)]
    wrong = share([calls(j.conditions)[worlds.LEARNED :].any() for j in judged(many)])
    limits = [(worlds.strengths(s.means)[worlds.LEARNED :] > 1).any() for s in many]
    return wrong | {"plain_limits": float(np.mean(limits))}


def renewed(rng, rho, part, rounds):
    many = [worlds.renewed(rng, rho, part) for _ in range(rounds)]
    return share([calls(j.conditions)[worlds.LEARNED :].any() for j in judged(many)])


def steps(rng, rho, part, size, within, rounds, wears, false_share):
    """Steps seen within so many blocks, and by individuals limits as often false as the product is."""
    many = [worlds.stepped(rng, rho, part, size, wears) for _ in range(rounds)]
    still = [
        worlds.strengths(worlds.noise(rng, worlds.BLOCKS, rho))[worlds.LEARNED :].max() for _ in range(4000)
    ]
    wide = np.quantile(still, 1 - false_share)
    found, plain = [], []
    for (s, at), j in zip(many, judged([s for s, _ in many]), strict=True):
        found.append(calls(j.conditions)[at : at + within].any())
        plain.append((worlds.strengths(s.means)[at : at + within] > wide).any())
    return share(found) | {"plain": float(np.mean(plain)), "plain_false": false_share}


def straight(rng, rho, part, blocks, rounds, wears):
    """Straight drifts called before the line is at the limit, and how early."""
    many = [worlds.straight(rng, rho, part, blocks, wears) for _ in range(rounds)]
    called, named, lead, plain = [], [], [], []
    for (s, onset), j in zip(many, judged([s for s, _ in many]), strict=True):
        after = calls(j.conditions)[onset:]
        called.append(after.any())
        named.append("drifting" in j.conditions[onset:])
        lead.append((blocks - 1 - int(np.argmax(after))) / blocks if after.any() else 0.0)
        plain.append((worlds.strengths(s.means)[onset:] > 1).any())
    return share(called) | {
        "named_drifting": float(np.mean(named)), "median_lead": float(np.median(lead)),
        "plain": float(np.mean(plain)),
    }  # fmt: skip


def forecasts(rng, rho, part, ages, rounds, finished, faster=1.0):
    """Cover and error of the forecast of a wearing stretch so old, and the error of least squares."""
    many = [
        worlds.worn(
            rng, rho, part, finished=finished, shown=int(rng.integers(ages[0], ages[1] + 1)), faster=faster
        )
        for _ in range(rounds)
    ]
    alive = [(s, left) for s, left in many if left > worlds.BORES]
    hits, ends, own, plain, given = [], [], [], [], 0
    for (s, left), told in zip(alive, left_of([s for s, _ in alive]), strict=True):
        if told is None:
            continue
        given += 1
        upper = np.inf if told.upper is None else told.upper
        lower = np.inf if told.lower is None else told.lower
        hits.append(lower <= left <= upper)
        ends.append(np.isinf(upper))
        own.append(np.inf if told.median is None else abs(told.median - left) / left)
        plain.append(abs(worlds.plain_forecast(s) - left) / left)
    if not hits:
        return share(hits)
    return share(hits) | {
        "given": given / len(alive), "open": float(np.mean(ends)), "median_error": float(np.median(own)),
        "median_error_plain": float(np.median(plain)), "ratio": float(np.median(own) / np.median(plain)),
    }  # fmt: skip


def drift_forecasts(rng, rho, part, blocks, ages, rounds):
    """Cover of forecasts of straight drifts, as of a block so long after they began, where one is given."""
    many = []
    for _ in range(rounds):
        s, onset = worlds.straight(rng, rho, part, blocks)
        shown = onset + int(rng.integers(ages[0], min(ages[1], blocks - 2) + 1))
        cut = worlds.series(s.means[:shown], s.spreads[:shown])
        many.append((cut, (onset + blocks - shown) * worlds.BORES))
    hits, ends = [], []
    for (_, left), told in zip(many, left_of([s for s, _ in many]), strict=True):
        if told is None:
            continue
        upper = np.inf if told.upper is None else told.upper
        lower = np.inf if told.lower is None else told.lower
        hits.append(lower <= left <= upper)
        ends.append(np.isinf(upper))
    if not hits:
        return {"share": None, "of": 0, "error": None}
    return share(hits) | {"open": float(np.mean(ends)), "called": len(hits) / len(many)}


def steady_cells(rng, rho, rounds):
    """False changes; a fifth of the rounds for what is beside the question."""
    for kind, wears in KINDS:
        for part in (0.2, 0.8):
            yield f"steady, {kind}", part, steady(rng, rho, part, rounds, wears)
    for part in (0.2, 0.8):
        beside = steady(rng, rho, part, rounds // 5, False, worlds.quiet_effects)
        yield "steady, block effects correlated", part, beside
        yield "wear renewed before the limit", part, renewed(rng, rho, part, rounds // 5)


def change_cells(rng, rho, rounds, wrong):
    """Steps and straight drifts; ``wrong`` is the false share the plain way is tuned to."""
    for kind, wears in KINDS:
        for size, within in ((3.0, 6), (3.0, 12), (2.0, 12)):
            found = steps(rng, rho, 0.5, size, within, rounds, wears, wrong)
            yield f"step of {size:g} sd within {within} blocks, {kind}", 0.5, found
        for blocks in (10, 20, 40, 60):
            yield (
                f"straight drift of {blocks} blocks, {kind}",
                0.5,
                straight(rng, rho, 0.5, blocks, rounds, wears),
            )


def forecast_cells(rng, rho, rounds):
    for age, ages in AGES.items():
        for finished in (5, 2, 0):
            found = forecasts(rng, rho, 0.5, ages, rounds, finished)
            yield f"forecast, {age}, {finished} stretches before", 0.5, found
        fast = forecasts(rng, rho, 0.5, ages, rounds, 5, 2.0)
        yield f"forecast, {age}, 5 stretches before, twice as fast", 0.5, fast
        found = drift_forecasts(rng, rho, 0.5, 40, ages, rounds)
        yield f"forecast of a straight drift of 40 blocks, {age} after it began", 0.5, found
    yield "forecast, 3 to 10 blocks, 5 stretches before", 0.5, forecasts(rng, rho, 0.5, (3, 10), rounds, 5)


def cells(seed, rounds, few, lags=LAGS):
    """Every cell: what, lag-1, share, and what came of it; ``few`` rounds of all but the steady ones.

    The steady ones come first: they are the most, and a run that is cut short has kept them.
    """
    draws = {rho: np.random.default_rng([seed, round(100 * rho)]) for rho in lags}
    wrong = dict.fromkeys(lags, 0.005)
    for rho in lags:
        for what, part, found in steady_cells(draws[rho], rho, rounds):
            if "events" in what or "does not" in what:
                wrong[rho] = max(wrong[rho], found["share"])
            yield what, rho, part, found
    for rho in lags:
        for what, part, found in change_cells(draws[rho], rho, few, wrong[rho]):
            yield what, rho, part, found
        for what, part, found in forecast_cells(draws[rho], rho, few):
            yield what, rho, part, found
        yield from gauge_cells(draws[rho], rho, few)


def main(rounds, few, seed, *hundredths):
    """Run one seed, all lags or those given in hundredths, and put its cells beside those of other runs."""
    lags = [h / 100 for h in hundredths] or list(LAGS)
    kept = json.loads(RESULT.read_text(encoding="utf-8")) if RESULT.exists() else {"runs": [], "cells": []}
    found = [c for c in kept["cells"] if c["seed"] != seed or c["lag1"] not in lags]
    run = {
        "seed": seed, "lags": lags, "rounds_of_steady": rounds, "rounds_of_others": few,
        "date": kept_result.today(), "commit": kept_result.commit(),
    }  # fmt: skip
    for what, rho, part, cell in cells(seed, rounds, few, lags):
        found.append({"what": what, "lag1": rho, "share_between": part, "seed": seed} | cell)
        print(json.dumps(found[-1]), flush=True)
        result = {"level": LEVEL, "runs": [*kept["runs"], run], "cells": found}
        RESULT.write_text(json.dumps(result, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main(*(int(a) for a in sys.argv[1:]))

from scipy.special import betaincinv

from qc.errors import QuestionError
from qc.stats.intervals import Interval


def clopper_pearson(successes: float, n: float, confidence: float = 0.95) -> Interval:
    """Return the two-sided interval of a share [1] that never covers less than stated.

    Source: C. J. Clopper, E. S. Pearson, Biometrika 26 (1934) 404-413; through the beta distribution as in
    NIST/SEMATECH e-Handbook 7.2.4.1 (from memory).

    Parameters
    ----------
    successes, n : float
        May be broken numbers: an equivalent number of independent bores and the part of it that succeeded.
    confidence : float
        Between 0 and 1.
    """
    if not 0 <= successes <= n or n <= 0:
        raise QuestionError(
            f"{successes:g} of {n:g} is no share: the count must lie between 0 and the number asked"
        )
    tail = (1 - confidence) / 2
    lower = 0.0 if successes == 0 else float(betaincinv(successes, n - successes + 1, tail))
    upper = 1.0 if successes == n else float(betaincinv(successes + 1, n - successes, 1 - tail))
    return Interval(lower=lower, upper=upper, confidence=confidence)


def equivalent_bores(bores: float, blocks: float, between: float, within: float) -> float:
    """Return how many independent bores tell as much about a share as these bores in blocks [1].

    Source: L. Kish, Survey Sampling (1965), section 5.4, design effect (from memory): n_eff = N / (1 + (N/m -
    1) r), r = between^2 / (between^2 + within^2); never below the number of blocks.

    Parameters
    ----------
    bores, blocks : float
        N and m.
    between, within : float
        Spread between blocks and in a block. Where they are not known (NaN) or both 0 each block counts once.
    """
    total = between * between + within * within
    r = between * between / total if total > 0 else 1.0
    return max(float(blocks), bores / (1 + (bores / blocks - 1) * r))

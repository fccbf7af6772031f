"""Which machine is leaving its tolerance, since when, and how many bores are left before the limit."""

from qc.drift.condition import judge, pooled_lags
from qc.drift.series import BoresToLimit, Judgement, SeriesBlocks, Signal

__all__ = ["BoresToLimit", "Judgement", "SeriesBlocks", "Signal", "judge", "pooled_lags"]

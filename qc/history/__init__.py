"""Readings + specification + stretch + coded deviation, and the block table: every answer starts here."""

from qc.history.blocks import that_count
from qc.history.compose import History, history, selected, series_id, series_key
from qc.history.readings import SERIES

__all__ = ["SERIES", "History", "history", "selected", "series_id", "series_key", "that_count"]

"""The shop's store: readings and records that are only ever added to, in SQLite or PostgreSQL."""

from qc.store.known import Known
from qc.store.store import Store
from qc.store.write import Write

__all__ = ["Known", "Store", "Write"]

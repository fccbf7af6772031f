"""What a result says of the machine that gave it, and when."""

import os
import platform
from datetime import UTC, datetime

import numpy as np


def machine():
    """Load, day, processors, and the versions of Python and numpy."""
    return {
        "load_average": os.getloadavg()[0],
        "at": datetime.now(UTC).date().isoformat(),
        "cores": os.cpu_count(),
        "python": platform.python_version(),
        "numpy": np.__version__,
    }


def machine_of_pandas():
    """As `machine`, with the threads of ours and the versions of pandas and numba."""
    import numba
    import pandas as pd

    from qc.stats import fast

    return {"threads": fast.threads(), **machine(), "pandas": pd.__version__, "numba": numba.__version__}

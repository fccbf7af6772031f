"""Rows of invented sheets as the tests of several checks write them."""


def hone_row(cells):
    """A row of a hone's sheet, in mm with the plate on unless its cells say otherwise."""
    base = {
        "engine": "heron-8", "machine": "hone-1", "operation": "hone", "state": "plate_on", "unit": "mm",
        "reading": "", "target": "", "station_mm": "", "clock_deg": "", "gauge": "bg-1",
    }  # fmt: skip
    return base | cells

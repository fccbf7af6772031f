"""Standard tolerance grades. The printed values are rounded by rule, so they are looked up, not computed."""

from bisect import bisect_left

from qc.errors import QuestionError

_OVER_MM = (3, 6, 10, 18, 30, 50, 80, 120, 180, 250, 315, 400, 500)

_GRADES_UM: dict[str, tuple[float, ...]] = {
    "IT1": (0.8, 1, 1, 1.2, 1.5, 1.5, 2, 2.5, 3.5, 4.5, 6, 7, 8),
    "IT2": (1.2, 1.5, 1.5, 2, 2.5, 2.5, 3, 4, 5, 7, 8, 9, 10),
    "IT3": (2, 2.5, 2.5, 3, 4, 4, 5, 6, 8, 10, 12, 13, 15),
    "IT4": (3, 4, 4, 5, 6, 7, 8, 10, 12, 14, 16, 18, 20),
    "IT5": (4, 5, 6, 8, 9, 11, 13, 15, 18, 20, 23, 25, 27),
    "IT6": (6, 8, 9, 11, 13, 16, 19, 22, 25, 29, 32, 36, 40),
    "IT7": (10, 12, 15, 18, 21, 25, 30, 35, 40, 46, 52, 57, 63),
    "IT8": (14, 18, 22, 27, 33, 39, 46, 54, 63, 72, 81, 89, 97),
    "IT9": (25, 30, 36, 43, 52, 62, 74, 87, 100, 115, 130, 140, 155),
    "IT10": (40, 48, 58, 70, 84, 100, 120, 140, 160, 185, 210, 230, 250),
    "IT11": (60, 75, 90, 110, 130, 160, 190, 220, 250, 290, 320, 360, 400),
    "IT12": (100, 120, 150, 180, 210, 250, 300, 350, 400, 460, 520, 570, 630),
    "IT13": (140, 180, 220, 270, 330, 390, 460, 540, 630, 720, 810, 890, 970),
    "IT14": (250, 300, 360, 430, 520, 620, 740, 870, 1000, 1150, 1300, 1400, 1550),
}


def it_grade(size_mm: float, grade: str) -> float:
    """Return the width of a standard tolerance grade [um].

    Source: ISO 286-1:2010, Table 1 (315 to 500 mm from memory).

    Parameters
    ----------
    size_mm : float
        Nominal size, above 0 up to and including 500 mm; the end of a range belongs to the range it closes.
    grade : str
        "IT1" to "IT14".

    Examples
    --------
    >>> it_grade(86.0, "IT6")
    22.0
    """
    if not 0 < size_mm <= _OVER_MM[-1]:
        raise QuestionError(
            f"tolerance grades are kept for sizes up to 500 mm, not {size_mm:g}: give the limits instead"
        )
    if grade not in _GRADES_UM:
        raise QuestionError(f"no tolerance grade is called {grade!r}: take one of IT1 to IT14")
    return float(_GRADES_UM[grade][bisect_left(_OVER_MM, size_mm)])

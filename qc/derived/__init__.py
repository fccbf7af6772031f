"""Formulas of one build, arrays in, arrays out [um unless a name ends in its unit].

One shape rule: a formula gets one array for each characteristic it is made of, ``(groups,)`` or
``(groups, places...)``. A place that was planned and not measured is NaN, and what needs it is NaN.
"""

"""Each repeat against the others: squared distances summed sample by sample. Literal; shares no code."""

from __future__ import annotations

import statistics


def distance_ratio(curves: list[list[float]], place: int) -> float:
    """Return (n − 1)/n times the squared distance from the mean of the others, over their variance."""
    others = [curve for number, curve in enumerate(curves) if number != place]
    between = within = 0.0
    for at, value in enumerate(curves[place]):
        column = [curve[at] for curve in others]
        between += (value - statistics.fmean(column)) ** 2
        within += statistics.variance(column)
    return (len(curves) - 1) / len(curves) * between / within


def dimensions(curves: list[list[float]]) -> float:
    """Return the squared trace of the covariance over time, over the sum of its squared entries."""
    columns = list(zip(*curves, strict=True))
    covariance = [[statistics.covariance(a, b) for a in columns] for b in columns]
    trace = sum(row[place] for place, row in enumerate(covariance))
    return trace**2 / sum(entry**2 for row in covariance for entry in row)

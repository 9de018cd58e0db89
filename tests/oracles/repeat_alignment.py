"""Aligning repeats by trying every combination of whole shifts. Slow and literal; shares no code."""

from __future__ import annotations

from itertools import combinations, product


def total_difference(curves: list[list[float]], moves: tuple[int, ...], reach: int) -> float:
    """Sum over every two repeats and every sample of the squared difference after moving each."""
    size = len(curves[0]) - 2 * reach
    total = 0.0
    for one, other in combinations(range(len(curves)), 2):
        for sample in range(size):
            a = curves[one][reach - moves[one] + sample]
            b = curves[other][reach - moves[other] + sample]
            total += (a - b) ** 2
    return total


def least_difference(curves: list[list[float]], reach: int) -> float:
    """Return the least total difference over every combination of moves up to the reach."""
    choices = range(-reach, reach + 1)
    return min(total_difference(curves, moves, reach) for moves in product(choices, repeat=len(curves)))

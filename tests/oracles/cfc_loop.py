"""The channel frequency class filter as a literal loop over its difference equation, slow on purpose.

Written from the published text alone (SAE J211-1, from memory): the coefficients, two passes, the second one
over the reversed output of the first. It shares no code with the filter of the package.
"""

from __future__ import annotations

import math


def one_pass(samples: list[float], cfc: float, dt: float) -> list[float]:
    """Run the difference equation once; before the first sample everything was at rest at its value."""
    wd = 2.0 * math.pi * cfc * 2.0775
    wa = math.sin(wd * dt / 2.0) / math.cos(wd * dt / 2.0)
    a0 = wa * wa / (1.0 + math.sqrt(2.0) * wa + wa * wa)
    a1 = 2.0 * a0
    a2 = a0
    b1 = -2.0 * (wa * wa - 1.0) / (1.0 + math.sqrt(2.0) * wa + wa * wa)
    b2 = (-1.0 + math.sqrt(2.0) * wa - wa * wa) / (1.0 + math.sqrt(2.0) * wa + wa * wa)
    x1 = x2 = y1 = y2 = samples[0]
    output = []
    for x in samples:
        y = a0 * x + a1 * x1 + a2 * x2 + b1 * y1 + b2 * y2
        output.append(y)
        x2, x1 = x1, x
        y2, y1 = y1, y
    return output


def cfc_by_loop(samples: list[float], cfc: float, dt: float, pad: int) -> list[float]:
    """Extend both ends point-symmetrically by `pad` samples, filter forward and backward, cut the ends."""
    before = [2.0 * samples[0] - samples[i] for i in range(pad, 0, -1)]
    after = [2.0 * samples[-1] - samples[-1 - i] for i in range(1, pad + 1)]
    forward = one_pass(before + list(samples) + after, cfc, dt)
    backward = one_pass(forward[::-1], cfc, dt)[::-1]
    return backward[pad : pad + len(samples)]

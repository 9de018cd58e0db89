"""Frequency and damping of a sum of decaying oscillations by the matrix pencil, written from the paper.

Hua and Sarkar, "Matrix pencil method for estimating parameters of exponentially damped/undamped sinusoids in
noise", IEEE Transactions on Acoustics, Speech and Signal Processing 38 (1990), from memory. It shares nothing
with the logarithmic decrement of the package: no extremes, no rest level, all samples at once.
"""

from __future__ import annotations

import math

import numpy as np


def decaying_modes(samples: list[float], dt: float, order: int) -> list[tuple[float, float]]:
    """Fit ``order`` complex exponentials; return damped frequency (Hz) and damping ratio of each oscillation.

    The mode with the largest amplitude comes first. A constant level takes one exponential of its own.
    """
    y = np.array(samples)
    n = len(y)
    pencil = n // 2
    hankel = np.array([y[i : i + pencil + 1] for i in range(n - pencil)])
    _, _, v = np.linalg.svd(hankel, full_matrices=False)
    signal_space = v[:order].T
    z = np.linalg.eigvals(np.linalg.pinv(signal_space[:-1]) @ signal_space[1:])
    powers = np.array([[one**k for one in z] for k in range(n)])
    amplitudes = np.linalg.lstsq(powers, y.astype(complex), rcond=None)[0]
    modes = []
    for one, _ in sorted(zip(z, amplitudes, strict=True), key=lambda pair: -abs(pair[1])):
        s = np.log(one) / dt
        if s.imag > 1e-6 / dt:
            modes.append((float(s.imag) / (2.0 * math.pi), float(-s.real / abs(s))))
    return modes

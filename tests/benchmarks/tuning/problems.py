"""The problems by name."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from tests.benchmarks.tuning import demo, spill, two_masses

if TYPE_CHECKING:
    from tests.benchmarks.tuning.problem import ProblemKind

KINDS: Final[dict[str, ProblemKind]] = {one.KIND.name: one.KIND for one in (demo, two_masses, spill)}

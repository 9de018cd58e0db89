"""Self-check: recompute known curves and compare the numbers with expected ones."""

from correlate.selfcheck.installed import Installation, installation
from correlate.selfcheck.kit import KIT, Kit, read_kit
from correlate.selfcheck.running import Checked, Comparison, SelfCheck, run_selfcheck

__all__ = [
    "KIT",
    "Checked",
    "Comparison",
    "Installation",
    "Kit",
    "SelfCheck",
    "installation",
    "read_kit",
    "run_selfcheck",
]

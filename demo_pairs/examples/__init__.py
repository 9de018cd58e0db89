"""Two small pairs as plain files, to see the formats without running anything; made by ``python -m``."""

from demo_pairs.examples.writing import EXAMPLES, Example, write_examples

__all__ = ["EXAMPLES", "Example", "write_examples"]

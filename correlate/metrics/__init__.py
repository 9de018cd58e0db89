"""Metrics of agreement: pure functions of an aligned pair, and the table that names them."""

from correlate.metrics.entry import Evaluation, Measure
from correlate.metrics.registry import METRICS, evaluate_measures, measure

__all__ = ["METRICS", "Evaluation", "Measure", "evaluate_measures", "measure"]

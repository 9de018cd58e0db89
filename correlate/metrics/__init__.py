"""Metrics of agreement: pure functions of an aligned pair, and the table that names them."""

from correlate.metrics.registry import METRICS, Evaluation, Measure, evaluate_measures, measure

__all__ = ["METRICS", "Evaluation", "Measure", "evaluate_measures", "measure"]

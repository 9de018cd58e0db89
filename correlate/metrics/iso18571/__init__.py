"""The rating of one pair, or of many, after ISO/TS 18571:2014."""

from correlate.metrics.iso18571.many import rate_checked, rate_many
from correlate.metrics.iso18571.rating import (
    GRADE_FLOORS,
    Grade,
    Ingredients,
    Rating,
    check_pair,
    grade_of,
    rate,
)
from correlate.metrics.iso18571.settings import RatingSettings, Weights

__all__ = [
    "GRADE_FLOORS",
    "Grade",
    "Ingredients",
    "Rating",
    "RatingSettings",
    "Weights",
    "check_pair",
    "grade_of",
    "rate",
    "rate_checked",
    "rate_many",
]

"""Measures of agreement: pure functions of an aligned pair."""

"""Tuning material cards: designs, runs, surrogates, sensitivity, proposals, held-out proof.

What a design point is worth comes from outside as a function; this package knows nothing of campaigns.
"""

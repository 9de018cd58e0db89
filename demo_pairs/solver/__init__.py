"""The invented virtual model: a lumped-parameter solver with its own units (mm, ms, kg, kN) and signs."""

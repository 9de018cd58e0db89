"""Where the rating goes and why: loss accounts, what-if, suspects, features, hints, clusters."""

"""Where rating points are lost and why: loss over time, what-if, suspects, features, hints, clusters."""

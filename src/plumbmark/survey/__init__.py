"""Places on the ground: coordinate systems, baselines, swing ties, routes. Level 1."""

"""The plausibility catalogue: which readings of a file are hard to believe, why, and what they might mean."""

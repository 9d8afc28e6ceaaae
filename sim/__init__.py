"""The simulated boat, the bench, and what a person touches."""

"""The solver: the source that runs, read as one formula, and claims on it decided for all inputs, latches and timers."""

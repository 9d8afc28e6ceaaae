"""The solver: the source that runs, read as one formula; claims on it decided for all inputs, latches and timers."""

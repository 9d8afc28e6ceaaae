"""Replay: what a recording would have made the supervisor do, and why."""

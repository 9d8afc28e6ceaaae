"""The plugin's fixture, for a checkout whose entry points are not installed; see docs/testing.md."""

from sim.testing.plugin import bench

__all__ = ["bench"]

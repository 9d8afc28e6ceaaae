"""The clock lives here: the supervisor on its buses, and the loop that drives it."""

from supervisor.runtime.loop import Clock, Loop, RealClock, Timing, VirtualClock
from supervisor.runtime.supervisor import FrameSink, Supervisor

__all__ = ["Clock", "FrameSink", "Loop", "RealClock", "Supervisor", "Timing", "VirtualClock"]

"""A hub of simulated slcan adapters (ASCII serial protocol) on CAN buses, in a process of its own, over ptys."""

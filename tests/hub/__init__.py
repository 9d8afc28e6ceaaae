"""A hub of simulated slcan (Lawicel protocol) adapters on CAN buses, as a process of its own, over pseudo-terminals."""

"""The interlocks of one boat proven: tables, product, reachability, numeric rules."""

from sim.prove.prover import prove_boat, prove_numbers, prove_tables
from sim.prove.result import Count, Proof, Shown

__all__ = ["Count", "Proof", "Shown", "prove_boat", "prove_numbers", "prove_tables"]

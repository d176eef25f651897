"""Mutants of the core: would a test notice? `python -m tests.mutation` runs a sample and tells the score."""

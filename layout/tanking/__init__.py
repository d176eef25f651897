"""Membrane and tape: runs, corner pieces, collars, close details, ends of the membrane."""

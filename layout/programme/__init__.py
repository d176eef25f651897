"""Stages of the works, curing windows, hold points."""

"""Tiles on a region: laid by index, cut by clipping; pieces and their marks; skirting."""

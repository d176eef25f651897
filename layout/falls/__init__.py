"""A floor that falls: facets, levels, screed, the water test."""

"""What a person said: the plan as values, the patterns of tiles, what is wanted of a start."""

"""Many plans at once: set out by any executor, summed up, ordered and cut together."""

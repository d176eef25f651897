"""Where tiling starts: cuts along edges, pulls, the best offset, the lines to snap."""

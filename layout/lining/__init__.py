"""The room as surfaces in their own axes, joined at junctions."""

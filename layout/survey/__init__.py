"""Geometry from readings and lines: corners by least squares, rooms out of drawings, first drafts."""

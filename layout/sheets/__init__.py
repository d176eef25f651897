"""Sheets composed of primitives; knows paper, not files."""

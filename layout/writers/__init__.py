"""Sheets, tables and records, written to files."""

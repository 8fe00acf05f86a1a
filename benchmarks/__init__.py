"""Measured tables: run ``python -m benchmarks``."""

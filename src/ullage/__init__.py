"""Ullage: how much old fluid is left in a pumped hydraulic circuit, and where."""

__version__ = "0.1.0"

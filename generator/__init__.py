"""Stallmark: honest, published comparisons of motion hardware."""

__version__ = "0.1.0"

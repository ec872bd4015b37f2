"""Soakbook publishes a static, comparable archive of graphics-card cooler tests."""

__version__ = "0.1.0"

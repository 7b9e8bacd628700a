"""Invented readings for the demonstration and the examples."""

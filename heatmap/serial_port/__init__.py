"""Readings from a serial or USB port: bytes, lines, readings."""

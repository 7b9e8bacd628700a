"""Readings and rounds; what people type; the readings file and the durable log."""

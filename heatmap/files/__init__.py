"""Grill files and readings files: the edge to the disk."""

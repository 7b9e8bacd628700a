"""Sentences people read, made from enums and numbers."""

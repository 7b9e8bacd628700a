"""Answers as people and programs read them: sentences, JSON documents, one HTML page."""

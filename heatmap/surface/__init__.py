"""Surfaces through scattered spots: ours and scipy's, under the same two verbs."""

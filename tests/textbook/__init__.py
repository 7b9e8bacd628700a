"""Closed forms of the textbooks that only tests use: another way of computing what the product computes."""

"""Pictures, returned as matplotlib figures."""

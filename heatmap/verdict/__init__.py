"""What the map means: chances of spots, evenness, comparison of rounds, history."""

"""What the grate is like: the surface of a round, from its spots and those of earlier rounds."""

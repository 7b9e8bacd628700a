"""What each knob does to the grate, and which one to turn."""

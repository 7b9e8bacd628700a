"""What to do next: which spots to shoot, which knob to turn, where to set the food down, when to sear."""

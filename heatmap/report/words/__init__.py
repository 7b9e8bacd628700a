"""The answers in plain words, in the units and the numbers of the cook: one file for each thing asked."""

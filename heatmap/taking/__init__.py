"""A round being taken, as a pure state machine: order of positions, doubt, warm-up, undo."""

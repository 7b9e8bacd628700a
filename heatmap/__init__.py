"""Map the surface temperature of a cooking grate from infrared spot readings."""

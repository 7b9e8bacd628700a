"""What the cook knows beforehand: grate, burners, gun, band; read and written as TOML."""

"""The dashboard: its panels, keys, and the terminal that it is drawn on."""

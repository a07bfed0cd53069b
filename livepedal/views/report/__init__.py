"""The reports of the commands as lines of text."""

"""The rolling model: readings, feet, findings. A state machine without I/O, clock or threads."""

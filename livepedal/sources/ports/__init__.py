"""MIDI ports: the libraries that open them, what comes over them, and when it was played."""

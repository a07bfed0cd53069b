"""How notes are written: a spelling that is asked for, and the spelling sheet with its reasons."""

"""Can this be played on one pedal harp, and if not, why not and what would help?"""

__version__ = "0.1.0"

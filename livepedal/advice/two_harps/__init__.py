"""One part on two harps, two parts on one, and the file that comes of it."""

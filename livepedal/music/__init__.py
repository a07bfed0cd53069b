"""Music as the model sees it: events with their own time, attacks, parts, and where a moment lies.

Everything here is pure: it turns what a source has read into values, and does no input or output of its own.
(`song.read_song` is the one door to a file; the reading is done by livepedal.sources.)
"""

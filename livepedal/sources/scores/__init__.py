"""Written scores (MusicXML): read, unfolded, marked."""

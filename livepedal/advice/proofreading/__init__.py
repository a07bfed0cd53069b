"""A printed pedalling, proofread."""

"""The feet: what an attack asks of them, the readings that are possible, whether the changes fit in time."""

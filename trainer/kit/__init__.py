"""Which pad is which: voices, zones, the note map and the hit filter."""

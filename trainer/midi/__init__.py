"""MIDI in and out, and the other makers of hits."""

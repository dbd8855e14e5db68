"""Patterns as files of other kinds: MIDI, MusicXML, tab and printed sheets."""

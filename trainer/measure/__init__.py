"""The reading: all that a take says, computed from targets and hits alone."""

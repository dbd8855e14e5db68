"""The reading: everything that a take shows, computed from targets and hits alone."""

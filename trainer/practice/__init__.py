"""From a pattern in time to outcomes: course, matcher, take, and the live state of a session."""

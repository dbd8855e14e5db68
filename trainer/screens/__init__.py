"""The screens: they watch, draw the events they get, and pass on what the player wants."""

import os

# Textual reads this when it is first imported. A hit that lands just after a frame waits for the
# next one, so twice the frames halve the longest wait; frames without a change cost nothing.
os.environ.setdefault("TEXTUAL_FPS", "120")

"""The Textual screens. They look on and hold no arithmetic."""

"""The screens: they look on, draw what they hear, and pass on what the player asks for."""

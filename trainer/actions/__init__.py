"""What the program can do, as functions over dataclasses: commands and screens call the same."""

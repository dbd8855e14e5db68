"""What is written: patterns, their notation, and their ways in and out."""

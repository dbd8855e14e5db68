"""What the screens are made of: one file a widget."""

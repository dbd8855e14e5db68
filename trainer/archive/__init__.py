"""Session files on disk, history, comparison and exports."""

"""Numbers as tables and pictures."""

"""Why pieces come back: how many, of what, since when, and what goes with it."""

"""The open shop simulated forward: its calendar, its chances, its steps, and the same compiled."""

"""The day plan: what to do today and tomorrow, in order and with times, and what waits for what."""

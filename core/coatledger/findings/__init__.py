"""What the trade says about a fact: recorded all the same, and answered with what to do."""

"""How a fact is written down, put in order, corrected and found again."""

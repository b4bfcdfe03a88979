"""Pages to read and to print: the month, the day plan, proofs, and what goes with the goods."""

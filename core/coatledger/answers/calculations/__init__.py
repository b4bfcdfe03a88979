"""The trade's numbers, asked by name: one table, from which service and command line are made."""

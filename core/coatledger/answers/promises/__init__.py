"""When it will ship: the ledger's open work as a shop to simulate, and quotes from it."""

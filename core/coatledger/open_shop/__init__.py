"""The open work of a shop, read from the ledger as something that can be simulated forward."""

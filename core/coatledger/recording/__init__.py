"""The way a posted fact takes into the ledger: read, judged, stamped, folded, tallied."""

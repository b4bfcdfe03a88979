"""The ledger's facts as flat tables for whoever analyses them elsewhere, page by page."""

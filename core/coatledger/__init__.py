"""The pure core of a finishing shop's ledger: facts, folds, clocks, answers; no clock, no disk."""

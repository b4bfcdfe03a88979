"""The pure core of a finishing shop's ledger: facts, folds, clocks and answers, without clock or disk."""

"""The answers: each a pure function of what the ledger says, with its reasons."""

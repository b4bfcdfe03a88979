"""The service and the command line over the ledger: it composes the core and the adapters."""

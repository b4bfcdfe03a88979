"""Numbers, not events: each formula beside its source, each range named."""

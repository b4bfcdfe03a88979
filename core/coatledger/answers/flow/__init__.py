"""How work moves through the shop, and what it waits for."""

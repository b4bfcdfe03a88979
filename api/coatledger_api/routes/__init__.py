"""What each address does, one module a subject; `app` gathers them."""

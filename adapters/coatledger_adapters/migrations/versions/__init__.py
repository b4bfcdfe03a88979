"""One module a step. A step, once released, is never edited."""

"""What the service promises to whoever calls it: the OpenAPI document, its examples, its page."""

"""When each face of a piece is ready for what, from its coats and the air they dried in."""

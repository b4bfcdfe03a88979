"""The pages of the shop: for the gun side, the wall, the life of a piece, setting up, pairing."""

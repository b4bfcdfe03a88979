"""Every fact a finishing shop can record, one struct each, grouped as the bench meets them."""

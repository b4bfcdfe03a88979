"""Selling ship dates: what is asked for is priced, held for some minutes, and promised."""

"""Telling others: whom, of what, signed with what, and the one door through which it goes out."""

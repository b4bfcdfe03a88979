"""What a gun's settings and trials mean for the work, and its cleaning."""

"""Where the core meets the world: the SQL store, its migrations, keys and files."""

"""The command line: each command in a module of its own, imported when it is called."""

"""The command line: parses, calls one thing, shows it."""

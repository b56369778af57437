"""The command line: arguments, one call, an exit code."""

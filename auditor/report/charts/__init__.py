"""The charts of the report, each with its title and its numbers."""

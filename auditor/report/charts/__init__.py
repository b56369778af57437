"""The pictures of the report, each with its finding and its numbers."""

"""Results as pages, terminal tables and files."""

"""The logbook: one SQLite file, its tables and its one stable view."""

"""The logbook in the browser, on this machine only."""

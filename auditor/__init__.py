"""Find out which frames of a trip are in focus, and which kit was worth carrying."""

__version__ = "0.1.0"

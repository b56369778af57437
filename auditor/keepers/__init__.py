"""Keepers: which frames pass, and handing them over."""

"""Pure optics: numbers in, numbers out."""

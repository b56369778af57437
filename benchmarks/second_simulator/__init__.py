"""A second simulator of camera pictures, independent of the first: it scores, nothing is trained on it."""

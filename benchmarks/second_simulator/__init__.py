"""A second simulator of camera pictures, independent of the first: it only scores, nothing is trained on it."""

"""Results in words: the one place where numbers and states become text."""

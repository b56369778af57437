"""Work over many files: a picklable task, workers, and the one writer."""

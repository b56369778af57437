"""Pure statistics: arrays in, results with their uncertainty out."""

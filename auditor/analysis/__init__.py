"""From what was recorded to kits, groups, light and comparisons."""

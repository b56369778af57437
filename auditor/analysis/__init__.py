"""Questions over kits: the kit table, comparisons, detail, change, advice as data."""

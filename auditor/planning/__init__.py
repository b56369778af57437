"""The next outing: which kit for an animal, a distance and a light."""

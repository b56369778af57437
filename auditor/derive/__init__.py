"""What follows from many frames: groups, the camera's own blur, the tables that are rebuilt."""

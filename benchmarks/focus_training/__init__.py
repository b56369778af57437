"""Training of the focus reading: scenes, optics and cameras drawn anew at every step, on the accelerator."""

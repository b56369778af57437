"""Pure focus reading: arrays in, a reading and its flags out."""

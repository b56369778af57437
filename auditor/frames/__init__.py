"""What one frame is: kit, lens, body and sensor, light, verdict, flags."""

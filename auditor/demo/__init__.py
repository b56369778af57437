"""The invented trip that fills sample_images."""

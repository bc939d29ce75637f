"""What the music asks of this harp and these hands: pure computations."""

"""What two hands can do."""

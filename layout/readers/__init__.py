"""What people and other programs made, read into a plan."""

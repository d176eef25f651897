"""What differs between two plans: which room is which, what moved, what it costs; and how to keep what is built."""

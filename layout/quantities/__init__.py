"""What is measured, ordered, mixed and priced."""

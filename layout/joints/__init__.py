"""Movement joints: where a surface is divided, and what is sealed."""

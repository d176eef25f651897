"""A room's shape: rings of tagged edges, sound outlines, the shell of faces and corners."""

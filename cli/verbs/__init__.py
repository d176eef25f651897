"""The verbs, one file each: a function `command` that reads, calls the engine, prints, and gives an exit status."""

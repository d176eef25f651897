"""Every printed figure counted again from the outside: what `setout --json --pieces` and `takeoff --json` tell, against the pieces, rings and lines they hold.

Nothing of `layout` is called or imported here but by the tests that make the records: only json, numpy, shapely and the plan's own file are
read. `python -m tests.recount PLAN…` prints how many figures agree, by kind, and each one that does not.
"""

"""Commands over the engine in `layout`."""

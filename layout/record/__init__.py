"""What was done on site: things that are ticked, ticks of several phones as one, the record for handing over."""

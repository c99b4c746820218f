"""The clock of a treatment: its schedule, which times can be, what is done, what is due at a given time."""

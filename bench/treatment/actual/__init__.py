"""What really happened: work done, values seen, sheets counted, and what of it is held against a plan."""

"""Stages of a treatment: what is known and chosen goes in, a frozen Plan comes out.

One module a stage (intake, cleaning, humidity, buffering, pressing, review) and one for the clock
(schedule).  Everything here is pure: no files, no screens, no clock.
"""

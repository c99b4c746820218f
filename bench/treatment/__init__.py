"""Stages of a treatment: what is known and chosen goes in, a frozen Plan comes out.

One folder a stage (``intake``, ``cleaning``, ``humidity``, ``weighing``, ``buffering``, ``pressing``,
``review``), which gives its choices, its plan and the function that plans; ``clock`` holds the schedule,
``actual`` what really happened.  Beside them stands what several stages share.  Everything here is pure:
no files, no screens, no clock of its own.
"""

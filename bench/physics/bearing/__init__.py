"""Where the load goes: spine, staples, step and text block under boards and platen.

The item in section (:mod:`zones`) is a bed that gives by a law of paper piles (:mod:`laws`); boards
and cards are loose plates on it (:mod:`plates`); bending and contact are brought into balance on thousands
of samples of what is not known (:mod:`batch`), or on any chain of plates and beds (:mod:`solve`), by Newton
steps on band matrices.  The questions of the bench are in :mod:`answers`, :mod:`spots` and :mod:`fit`.
"""

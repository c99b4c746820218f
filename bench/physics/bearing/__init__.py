"""Where the load goes: spine, staples, step and text block under boards and platen.

The item in section (:mod:`zones`) is a bed that gives by a law of paper piles (:mod:`laws`); boards
and cards are loose plates on it (:mod:`plates`); bending and contact are brought into balance on one
section (:mod:`section`), on the whole face (:mod:`face`), or on thousands of samples of what is not
known (:mod:`batch`), all by Newton steps on band matrices (:mod:`solve`).  The questions of the bench
are in :mod:`answers`, :mod:`spots` and :mod:`fit`.
"""

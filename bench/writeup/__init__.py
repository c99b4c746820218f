"""The write-up: the record of a treatment as a report that opens offline, prints, and can be signed.

:mod:`bench.writeup.collect` gathers the record into blocks, :mod:`~bench.writeup.html` and
:mod:`~bench.writeup.markdown` write the same blocks, :mod:`~bench.writeup.report` puts the files in place.
"""

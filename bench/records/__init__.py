"""The record of a treatment: a folder of CSV tables to which rows are only ever added.

- :mod:`bench.records.schema`: which tables and columns there are, as data.
- :mod:`bench.records.values`, :mod:`~bench.records.rules`: what a cell and a row may hold.
- :mod:`bench.records.sheet`: a CSV file read strictly, with every fault named.
- :mod:`bench.records.disk`, :mod:`~bench.records.journal`: writing that survives a kill.
- :mod:`bench.records.store`, :mod:`~bench.records.record`: create and open a treatment; read and save it.
- :mod:`bench.records.check`, :mod:`~bench.records.register`: faults across tables; the list of treatments.
"""

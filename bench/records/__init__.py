"""The record of a treatment: a folder of CSV tables to which rows are only ever added.

- :mod:`bench.records.schema`: which tables and columns there are, as data.
- :mod:`bench.records.values`, :mod:`~bench.records.rules`: what a cell and a row may hold.
- :mod:`bench.records.sheet`: a CSV file read strictly, with every fault named.
- :mod:`bench.records.disk`, :mod:`~bench.records.journal`, :mod:`~bench.records.gate`: writing that survives
  a kill, and is read back first.
- :mod:`bench.records.ledger`: the chain of saves, which tells what is not as it was saved.
- :mod:`bench.records.store`, :mod:`~bench.records.record`: create and open a treatment; read and save it.
- :mod:`bench.records.nouns`: from rows to nouns and back.
- :mod:`bench.records.check`, :mod:`~bench.records.standing`: faults across tables; plans out of date.
- :mod:`bench.records.register`, :mod:`~bench.records.index`, :mod:`~bench.records.many`: the list of
  treatments, what was worked out of each, and reading many of them at once.
- :mod:`bench.records.migrate`, :mod:`~bench.records.take_over`, :mod:`~bench.records.restore`,
  :mod:`~bench.records.merge`: bring an older record to this schema, and mend one.
"""

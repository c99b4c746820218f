"""Panels: an instrument set into the page of a notebook.

One builder a stage, ``build_…_panel(treatment)``.  A panel does no arithmetic: it reads its fields,
asks the stage for a Plan and shows it, answer first.  Only Save writes.
"""

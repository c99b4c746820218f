"""Pictures: a Plan goes in, a :class:`bench.figures.style.Picture` comes out.

One static drawing serves the notebook, the panel and the printed report.  What is shown beside it, tables
and cautions, is filled into the templates of ``pieces.html``.
"""

"""
Quality indicators out of the custody log.

``rows.lake_rows`` makes one row a specimen and one row a draw out of the events; ``lake`` keeps
them as Parquet; ``engine`` opens DuckDB or Spark; ``ask`` counts with one set of Ibis expressions
(``measures``); ``intervals``, ``control``, ``runs``, ``funnel`` and ``drivers`` say how sure a
figure is; ``report.report`` gathers a month, ``plots.charts`` draws it and ``paper.report_pdf``
prints it.

Nothing is imported here: Ibis, statsmodels and matplotlib are loaded by the module that needs them.
"""

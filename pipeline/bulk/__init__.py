"""Collections of any size: the same stages over parts, in bounded memory, resumable, on all cores.

``schedule.verify_bulk`` cuts a collection into parts, reads every distinct line once, judges part by part
and writes partitioned Parquet. A part's rows go through the very functions of ``pipeline.verify``;
only what crosses parts is done here, by DuckDB out of core: ids used twice, lines that name another
recipe of the collection, and which texts are distinct.
"""

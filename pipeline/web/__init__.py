"""The review page: a local page on which a person settles lines, one answer at a time.

Like the command line, it only shows what the stages say and writes answers to the collection's
``decisions.csv`` and ``pantry.csv``. ``server.serve`` opens it.
"""

"""The engine: linkages, loads, joints and dampers as pure arithmetic over NumPy arrays.

Nothing here reads, writes or knows a document. A point is an array whose first axis holds x, y, z; every axis after it
is batch. A position that cannot close is NaN with a mask, never an exception. Symbols, signs and sources are in
NOMENCLATURE.md beside this file.
"""

VERSION = "3"
"""A number that rises whenever an answer would change; kept with every answer and in its ETag."""

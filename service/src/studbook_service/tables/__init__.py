"""The book as tables: pure functions from entries to rows.

A row stands for an entry and is sent once: that an entry is no longer current is in `parents` of later rows of
`entries`, not in the row sent again. So an export is one pass in the order of writing, and a cursor (number and chain)
is all there is to remember. With `until` several tables are of one moment.
"""

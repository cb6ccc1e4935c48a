"""The only bridge between setup documents and the engine's arrays, both ways.

Throughout the package these names have one meaning:

- `tree`: a setup document. `reader`: the same under reading; lacking fields and assumptions are noted in it.
- `origins`: where its readings were entered, as `origins.origins` finds them.
- `name`: a corner, `lf`, `rf`, `lr` or `rr`. `arm`: `upper` or `lower`. `axle`, `end`: `front` or `rear`.
- `pose`: solved linkages; `front`: the front end they are of.
- `missing`: what an answer cannot be given for is added to it.

Every `..._answer` refuses where nothing can be computed, and lists in `missing` what else could not be.
"""

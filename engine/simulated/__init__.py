"""A simulated set: the physics of a small governed set, its faults, and a bench on which checks are made.

One direction: `governor` -> `plant` -> `equilibrium` -> `running` -> `eye` -> `looks`, `measurements`, `trials` ->
`bench`; `draws` and `faults` beside them.
"""

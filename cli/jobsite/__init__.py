"""The job at the set: which set, the cautions, the complaint, step by step to proven and closed.

In: what the technician types. Out: events in the job file. Never: decides what is safe or fixed (see `engine.job`).
"""

__all__ = []

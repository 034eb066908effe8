"""`hertzwright knowledge ACTION`: one module for each action, and what those share.

In: a checkout of the knowledge. Out: problems, cases, comparisons, pictures. Never: merges or commits.
"""

__all__ = []

"""Load tests, traces and the adjusting coach at the terminal.

In: files and typed readings. Out: verdicts, and findings entered into a job. Never: judges by limits of its own.
"""

__all__ = []

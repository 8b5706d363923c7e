"""Whether the tests notice what is wronged in the pure rooms.

changes: what may be changed, and what is drawn. reach: which functions each test calls.
trial: runs the tests that reach a change. ``python -m tests.mutants`` draws, runs and lists.
"""

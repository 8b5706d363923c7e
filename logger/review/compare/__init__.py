"""Runs next to each other.

- ``compare``  what differed in ingredients and targets, and what that did
- ``grouping`` runs in two groups: by outcome, lot, revision of their sheet, or a day
- ``overruns`` each number of a product over its runs, with control limits
- ``effects``  two groups of runs compared without assuming a law
- ``scores``   scores of tasters: whether batches differ
- ``ranked``   differences, the largest first, by the usual scatter
"""

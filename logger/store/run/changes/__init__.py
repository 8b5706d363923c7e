"""Changes of what a run file holds, one module for each, frozen as they were made:

- ``keyed_findings``  to version 2: a finding is known by a key, no longer by its label.

Pure: each takes JSON values and returns them as its version has them. ``logger.store.run.schema``
numbers them, applies them when a file is written, and for readers of an older file.
"""

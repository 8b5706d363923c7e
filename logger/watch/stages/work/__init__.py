"""Work that nothing measures: how long it took.

- ``watcher``: the stage watcher; the stage's start and end are the time.
"""

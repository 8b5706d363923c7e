"""Photos of a run, as plain values.

- ``row``   what is known of a photo, from the events of its run
- ``jpeg``  whether bytes are a photo as a run file keeps it
"""

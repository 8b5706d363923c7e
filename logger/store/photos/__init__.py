"""Photos from outside become those that a run file keeps.

- ``encoding``  a picture of a camera, upright, small, without metadata
"""

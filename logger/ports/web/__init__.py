"""Instruments that answer on the network instead of a serial line.

- ``polled`` a page that is asked again and again, as a port that prints lines
"""

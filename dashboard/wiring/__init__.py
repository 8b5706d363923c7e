"""The instruments on the table.

- ``page``   what is plugged in, which channel is which, how to check a sensor
"""

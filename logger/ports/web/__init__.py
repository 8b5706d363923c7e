"""Instruments that answer on the network instead of a serial line.

- ``credentials`` what a server asks for as a password, from outside of every file
- ``source``      what both of the following need of a port
- ``polled``      a page that is asked again and again, as a port that prints lines
- ``messages``    a topic of an MQTT broker, as a port that prints lines
"""

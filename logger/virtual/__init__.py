"""The virtual bench: a batch that really happens, and instruments that speak of it.

In reading order:

- ``batch``     what the cook does and says, what goes wrong, and what came out
- ``bodies``    what physically happens: vessels, rolls, coats, loads on scales
- ``readings``  what instruments read of it, and what breaks
- ``lines``     the same over real ports, at any speed
- ``process``   all of it in a process of its own
"""

"""Whole batches of another product, by physics of their own, written apart from the virtual bench.

- ``product``  the sheet and the bench of a cheese-filled pepper roll
- ``cook``     what a cook does in one batch, and what goes wrong
- ``outcome``  what comes out of it, by plain rules of this kitchen
- ``traces``   what the sensors show, and the batch as the engine judges it
"""

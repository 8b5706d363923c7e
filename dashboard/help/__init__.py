"""Help where one is: behind the question mark in the head, never in the way.

- ``known``  the few things to know of each page, a first batch, and the words each page uses
- ``panel``  the question mark, and the dialog that it opens
"""

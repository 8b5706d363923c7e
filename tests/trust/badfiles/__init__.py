"""Bad files of every kind that a user can give, each given to the command that reads it.

- ``cases``   how each file is made, and the words of the command
- ``trial``   one command in a process with limits; what it said, cost and left behind

``python -m tests.trust.badfiles`` prints the table.
"""

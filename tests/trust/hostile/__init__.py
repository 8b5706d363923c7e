"""Everything hostile at once during a recording: ``python -m tests.trust.hostile`` prints a table.

- ``sent``    hostile sheets and commands
- ``honest``  a process beside them that watches commits, asks for the state and opens a page
- ``attack``  the recording, the attacks, and what came of them
"""

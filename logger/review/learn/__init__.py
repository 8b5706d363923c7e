"""Sheets made from others, and from runs.

- ``sheet_text``  a sheet as text that reads back to the same sheet
- ``sheets``      a first one, another size, what two revisions differ in
- ``learned``     targets proposed from what worked
"""

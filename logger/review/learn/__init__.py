"""Sheets made from others, and from runs.

- ``sheet_text``  a sheet as text that reads back to the same sheet
- ``sheets``      a first one, another size, what two revisions differ in
- ``scaled_text``  another size in the sheet's own text; comments and order stay
- ``learned``     targets proposed from what worked
"""

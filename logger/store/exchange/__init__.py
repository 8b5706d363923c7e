"""Runs out to CSV, Parquet and JSON, and back; files from elsewhere in.

- ``cells``      one CSV cell: numbers, times, text no spreadsheet runs
- ``table``      a CSV text with limits, and words for where one stands
- ``plainrows``  plain numbers of a large CSV file, a megabyte at a time
- ``columns``    wide and long tables to columns; units
- ``checked``    what an export must be before a run is made of it
- ``results_checked``  what the results of an export must be
- ``bundle``     a whole run as plain data, and a run file made of it
- ``jsonpieces`` a JSON text in pieces, of any size
- ``jsonexport`` the JSON of an export to its parts
- ``digests``    whether the files of an export are still as they were written
- ``exporting``  a run as CSV, Parquet or JSON
- ``streaming``  a large file, looked at first and then read again in pieces
- ``restoring``  an export back to a run
- ``told_events``  the events of a file from elsewhere
- ``importing``  a file from elsewhere, of readings and of events, to a run
"""

"""A run or a sheet to hand on.

- ``fingerprint``     so that a report can be checked against its run file
- ``picture``         what is drawn of a run, as plain values
- ``figures``         its traces drawn as SVG
- ``report_words``    words used on the page and on paper alike
- ``report_content``  what goes into a report
- ``report``          one HTML file with everything in it
- ``wanted``          what the sheet asks for in a stage
- ``again``           recipe as weighed, vessels and procedure, to make it again
- ``page``            what the two pages say, for the template ``report.typ``
- ``typesetting``     pages set by typst
- ``report_pages``    the two pages as a PDF, or as one PNG
- ``sheets``          a sheet on paper: batch card and recipe
"""

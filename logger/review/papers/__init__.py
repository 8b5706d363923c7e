"""A run to hand on.

- ``fingerprint``     so that a report can be checked against its run file
- ``figures``         traces drawn for paper and for the report
- ``report_words``    words used on the page and on paper alike
- ``report_content``  what goes into a report
- ``report``          one HTML file with everything in it
- ``report_pages``    PDF pages, or the first one as a PNG
"""

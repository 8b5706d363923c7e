"""What an explanation looked at, as plain values.

- ``considered``  each candidate cause, and the number that rules it out or leaves it open
- ``group``       several runs with one defect: each number of each run
"""

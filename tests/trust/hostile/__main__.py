"""Prints the table of a whole run."""

from tests.trust.hostile.attack import run, table

if __name__ == "__main__":
    print(table(*run()))

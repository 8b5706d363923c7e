"""Prints the table: ``python -m tests.faults [--json]``; ends with 1 when a row is wrong."""

import dataclasses
import json
import sys
from concurrent.futures import ThreadPoolExecutor

from tests.faults import bench_rows, own_rows, scale_rows


def main() -> None:
    """Run all rows, the batch and the others side by side, and print them."""
    with ThreadPoolExecutor() as pool:
        parts = [pool.submit(part.rows) for part in (bench_rows, own_rows, scale_rows)]
        rows = [row for part in parts for row in part.result()]
    if "--json" in sys.argv[1:]:
        print(json.dumps([{**dataclasses.asdict(r), "verdict": r.verdict} for r in rows], indent=1))
    else:
        heads = ("fault", "what the user sees", "what the file holds", "verdict")
        print("| " + " | ".join(heads) + " |\n|---|---|---|---|")
        for row in rows:
            cells = (row.fault, row.seen, row.held, row.verdict)
            print("| " + " | ".join(cell.replace("|", "/") for cell in cells) + " |")
    if any(row.wrong for row in rows):
        sys.exit(1)


main()

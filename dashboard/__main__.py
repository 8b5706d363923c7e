"""``python -m dashboard --data DIR``: the screen alone, beside a recorder that runs elsewhere."""

import argparse
from pathlib import Path

from dashboard.serve import PORT, serve


def main() -> None:
    """Read the options and answer until Ctrl-C."""
    parser = argparse.ArgumentParser(prog="python -m dashboard", description=__doc__)
    parser.add_argument("--data", type=Path, required=True, help="data folder")
    parser.add_argument("--port", type=int, default=PORT)
    parser.add_argument("--lan", action="store_true", help="answer the local network, with a token")
    options = parser.parse_args()
    serve(options.data, port=options.port, lan=options.lan)


if __name__ == "__main__":
    main()

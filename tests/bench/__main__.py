"""Measurements, printed: ``python -m tests.bench [NAME ...]``; no name prints the list."""

import argparse
import importlib
import os
import pkgutil
import platform
import sys

import tests.bench


def main() -> None:
    """Run the measurements named on the command line."""
    known = sorted(m.name for m in pkgutil.iter_modules(tests.bench.__path__) if m.name[0] != "_")
    parser = argparse.ArgumentParser(prog="python -m tests.bench", description=__doc__)
    parser.add_argument("names", nargs="*", metavar="NAME")
    parser.add_argument("--soak-minutes", help="how long `screen` watches memory")
    asked = parser.parse_args()
    names = asked.names
    if asked.soak_minutes:
        os.environ["BAINLOG_SCREEN_SOAK_MINUTES"] = asked.soak_minutes
    if not names or not set(names) <= {*known, "all"}:
        print("python -m tests.bench NAME ...   with NAME of:", ", ".join([*known, "all"]))
        sys.exit(0 if not names else 2)
    print(f"# {platform.platform()}, Python {platform.python_version()}, {platform.processor()}")
    for name in known if names == ["all"] else names:
        print(f"\n## {name}", flush=True)
        importlib.import_module(f"tests.bench.{name}").main()


main()

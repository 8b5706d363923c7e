"""Measurements, printed: ``python -m tests.bench [NAME ...]``; no name prints the list."""

import importlib
import pkgutil
import platform
import sys

import tests.bench


def main() -> None:
    """Run the measurements named on the command line."""
    known = sorted(m.name for m in pkgutil.iter_modules(tests.bench.__path__) if m.name[0] != "_")
    names = sys.argv[1:]
    if not names or not set(names) <= {*known, "all"}:
        print("python -m tests.bench NAME ...   with NAME of:", ", ".join([*known, "all"]))
        sys.exit(0 if not names else 2)
    print(f"# {platform.platform()}, Python {platform.python_version()}, {platform.processor()}")
    for name in known if names == ["all"] else names:
        print(f"\n## {name}", flush=True)
        importlib.import_module(f"tests.bench.{name}").main()


main()

"""Measurements, printed; run with ``python -m tests.bench``."""

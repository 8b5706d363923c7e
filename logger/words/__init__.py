"""How times, values, bands and verdicts are written; the only place that does it."""

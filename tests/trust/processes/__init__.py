"""Commands, recorders and virtual benches as processes: what ends with what."""

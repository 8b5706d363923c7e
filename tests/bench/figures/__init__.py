"""Parts of the measurements: drivers, generators, scores."""

"""drying."""

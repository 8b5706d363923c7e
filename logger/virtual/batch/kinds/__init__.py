"""What the cook does in each kind of stage, a module a kind: ``act``."""

"""What a plan says of one kind of stage alone, a module a kind: ``plan_stage``."""

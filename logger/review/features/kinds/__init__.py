"""Numbers that one kind of stage has alone, a module a kind: ``take`` yields them."""

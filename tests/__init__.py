"""Tests, mirroring the tree; ``bench`` holds measurements."""

"""What tries to break it: fuzz, security, kills, upgrade; and the commands that run long."""

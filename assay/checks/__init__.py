"""Published values, worked out anew on any installation and compared with what was printed."""

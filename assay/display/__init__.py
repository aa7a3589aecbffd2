"""How numbers and rows are shown. Knows no result class."""

"""Formulas and molar masses, species, and the bases in which a strength is stated."""

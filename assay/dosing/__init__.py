"""Doses: volumes to dispense that deliver what is needed, and never into what must not be met."""

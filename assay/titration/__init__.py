"""Titrations: standardising a titrant, and assaying with it."""

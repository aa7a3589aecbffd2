"""The bench: burettes, pipettes, flasks, cylinders, balances, sampling. Readings become influences."""

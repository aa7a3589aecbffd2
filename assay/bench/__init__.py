"""The bench: ware, balances, temperature, air, sampling, and what is known of each. Readings become influences."""

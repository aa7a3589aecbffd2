"""How a number was obtained, in words: every step with its formula, the numbers put in, and where they come from."""

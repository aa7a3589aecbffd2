"""The bench sheet: a TOML file with instruments, readings and what is to be dosed."""

"""The reasoning and the arithmetic. No terminal, no clock, no printing."""

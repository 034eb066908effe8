"""The terminal: commands, prompts, tables."""

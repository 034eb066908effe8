"""Hertzwright: finds why an older generating set will not hold its frequency."""

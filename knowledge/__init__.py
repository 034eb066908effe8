"""What the trade knows: YAML, JSON Schemas and solved cases. Data only."""

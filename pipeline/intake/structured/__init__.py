"""JSON and YAML documents: schema.org recipes, or the form of our own."""

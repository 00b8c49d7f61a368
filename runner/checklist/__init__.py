"""The YAML files as frozen data with source positions: loading, checking, schema."""

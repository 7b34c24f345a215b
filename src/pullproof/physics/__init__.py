"""Formulas on arrays in SI units: no files, no cars, no settings."""

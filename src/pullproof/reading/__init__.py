"""Bytes to text columns, columns to channels."""

"""The folder that remembers: cars, changes, test days, logs and decisions; samples and originals beside them."""

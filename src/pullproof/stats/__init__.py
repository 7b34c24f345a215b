"""Numbers in, numbers out: models, smoothing, bands."""

"""An invented car, its simulator, and logs made with it."""

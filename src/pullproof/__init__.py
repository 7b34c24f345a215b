"""Says whether a part changed a turbocharged car, by how much, and how sure that is."""

"""The same job in the browser: pages made on the server, state in the address and the catalogue."""

"""Migrations of the catalogue, oldest first in `versions`; a newer one is added, an old one is never edited."""

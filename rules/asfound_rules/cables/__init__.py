"""Cables: how they enter boxes, are held, protected and used."""

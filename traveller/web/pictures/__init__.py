"""Drawings of our own: frozen dataclasses in, SVG text out. No Django, no clock, no database."""

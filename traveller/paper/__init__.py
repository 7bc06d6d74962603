"""Papers: frozen content in, PDF bytes out. No database, no clock, no settings."""

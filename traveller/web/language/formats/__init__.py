"""How numbers are written where Django's own files do not say it or say it otherwise."""

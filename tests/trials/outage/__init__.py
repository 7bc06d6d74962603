"""Phones through outages: kills, restarts, full and locked disks, cut lines; each news once, in order, never a 500."""

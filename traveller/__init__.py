"""Production travellers and multi-site routing for small makers."""

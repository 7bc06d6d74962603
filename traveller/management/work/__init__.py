"""The worker behind the pages: lanes in processes of their own, started again when they end, gone with their parent."""

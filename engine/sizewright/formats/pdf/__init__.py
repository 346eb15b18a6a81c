"""PDF: reading."""

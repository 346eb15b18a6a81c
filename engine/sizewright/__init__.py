"""Sizewright: grades and converts sewing patterns."""

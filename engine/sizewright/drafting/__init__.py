"""Drafting: one way to cut and remake outlines, and what follows an edit."""

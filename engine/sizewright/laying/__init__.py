"""Laying: shapes on sheets and cloths, for pages and lays alike."""

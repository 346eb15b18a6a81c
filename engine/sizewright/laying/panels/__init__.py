"""The search for a lay on panels: pixels first, with overlaps allowed and priced, then exact."""

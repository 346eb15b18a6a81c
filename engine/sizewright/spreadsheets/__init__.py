"""Tables that a spreadsheet edits and saves: text parted into cells, and what a cell means."""

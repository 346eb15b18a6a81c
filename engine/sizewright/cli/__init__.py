"""The command line: thin, and quick to start. The work is in `jobs`."""

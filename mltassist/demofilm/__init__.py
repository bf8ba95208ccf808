"""The demonstration film: its media, drawn and synthesised, and its documents."""

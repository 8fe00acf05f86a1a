"""What happened to each specimen, append-only."""

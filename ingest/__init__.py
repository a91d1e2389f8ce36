"""What lies on disk becomes typed tables: register, logs, store."""
